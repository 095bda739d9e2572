#pragma once
/// What a job comes to: which conditions a release must meet, and in which order they are asked,
/// for one case and for many.

#include <optional>

#include "cure/process/criteria.hpp"

namespace cure::process {

/// Why there is no release time.
enum class ReleaseState {
  reached,
  not_in_hold,         ///< still curing when the held stage ends
  vitrified,           ///< stopped short of the criterion: time alone will not do
  gelled_before_held,  ///< set before it lay against the pipe: there is nothing to release
  no_held_stage,
  outside_model,  ///< met only beyond what the resin's model knows of setting in the cold
};

/// How long resin that is not released is followed further, at the temperature it has, to see
/// whether time alone would do [s].
inline constexpr double look_ahead = 7.0 * 86400.0;

/// Of a case with a held stage.
/// @param met largest Tg - T of any point [K] when the criterion is met for good; nothing when not
/// @param unreleased the state when it is not
template <class Met, class Unreleased>
ReleaseState release_state(Case const& c, bool gelled_before_held, Met const& met,
                           Unreleased const& unreleased) {
  if (gelled_before_held) return ReleaseState::gelled_before_held;
  std::optional<double> const glassy_by = met();
  if (!glassy_by) return unreleased();
  return *glassy_by > c.resin.validity.Tg_margin_max ? ReleaseState::outside_model
                                                     : ReleaseState::reached;
}

/// Of a held stage that ended before the criterion was met: still curing, or stopped?
/// @param T,alpha of the deciding point at the end [K], [-]
/// @param later its degree of cure after `look_ahead` at that temperature
inline ReleaseState unreleased_state(Case const& c, Criterion const& release, double T,
                                     double alpha, double later) {
  bool const comes = release.point(T, later) >= 0.0;
  bool const glass = c.resin.glass_transition.at(alpha).value >= T;
  return !comes && glass ? ReleaseState::vitrified : ReleaseState::not_in_hold;
}

}  // namespace cure::process
