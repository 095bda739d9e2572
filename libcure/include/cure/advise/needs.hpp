#pragma once
/// What is asked of a job, and how far changes may be looked for.
///
/// A need that is not met comes from the reasons of decide::Decision: each says one of them. A hold
/// that is planned too short is a need too, for a longer one is a change.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <optional>
#include <set>
#include <string>
#include <string_view>

#include "cure/decide/answer.hpp"
#include "cure/process/validate.hpp"

namespace cure::advise {

using process::Case;

/// Working time kept in hand by default: a choice of this project [s].
inline constexpr double usual_reserve = 600.0;

/// What options may be.
namespace limits {
inline constexpr Range moment{.low = 60.0, .high = 6e6};              ///< from mixing [s]
inline constexpr Range reserve{.low = 0.0, .high = 6e6};              ///< [s]
inline constexpr Range coldest_resin{.low = 253.15, .high = 313.15};  ///< [K]
inline constexpr Range hottest_fill{.low = 273.15, .high = 423.15};   ///< [K]
inline constexpr Range longest_hold{.low = 300.0, .high = 6e6};       ///< [s]
}  // namespace limits

/// What a job must do. In the order in which they are told.
enum class Need {
  working,  ///< the liner may be held as late as is asked for
  release,  ///< the bladder comes out in time
  hot,      ///< nothing gets too hot
  model,    ///< the model covers the job
  reserve,  ///< it does so too with a target missed by a step
};
using Unmet = std::set<Need>;

/// The needs in numbers; times from mixing [s].
struct Needs {
  double working = 0.0;         ///< the liner may be held as late as this, and is still workable
  bool working_stated = false;  ///< else when the case holds it, and `reserve`
  double reserve = 0.0;         ///< from when the case holds it to `working`
  std::optional<double> release_by;  ///< nothing: at any moment while it is held, and a longer hold
                                     ///< is a change that counts
  double held_from = 0.0;            ///< when the case holds the liner
};

/// How far changes are looked for. Limits of the models may stop them sooner.
struct Reach {
  double coldest_resin = 275.15;        ///< [K]
  double hottest_fill = 333.15;         ///< [K]
  double longest_hold = 72.0 * 3600.0;  ///< [s]
};

struct Options {
  std::optional<double> working;     ///< latest moment at which the liner may come [s from mixing]
  std::optional<double> reserve;     ///< or: working time in hand after the planned moment [s]
  std::optional<double> release_by;  ///< deadline [s from mixing]
  Reach reach;
  std::optional<uncertain::Stated> stated = uncertain::usual();  ///< nothing: a point estimate
  std::optional<std::size_t> samples;                            ///< as in decide::Options
  std::size_t threads = 0;                                       ///< 0: one for each processor
};

namespace detail {

inline std::string minutes(double seconds) { return shown(seconds / 60.0) + " min"; }

/// Reasons of a decision by the need that they tell of; what else stops a job is of the model.
struct NeedOfReason {
  std::string_view code;
  Need need;
};
inline constexpr std::array need_of_reason{
    NeedOfReason{"working_margin_negative", Need::working},
    NeedOfReason{"too_viscous_at_mixing", Need::working},
    NeedOfReason{"gelled_before_held", Need::working},
    NeedOfReason{"working_time_not_sure", Need::working},
    NeedOfReason{"release_never", Need::release},
    NeedOfReason{"cannot_bear", Need::release},
    NeedOfReason{"release_not_reached", Need::release},
    NeedOfReason{"hold_longer", Need::release},
    NeedOfReason{"let_down_too_soon", Need::release},
    NeedOfReason{"no_held_stage", Need::release},
    NeedOfReason{"release_not_sure", Need::release},
    NeedOfReason{"mixed_mass_too_hot", Need::hot},
    NeedOfReason{"liner_too_hot", Need::hot},
    NeedOfReason{"pipe_too_hot", Need::hot},
    NeedOfReason{"bladder_too_hot", Need::hot},
    NeedOfReason{"fill_above_bladder_limit", Need::hot},
    NeedOfReason{"heat_not_sure", Need::hot},
};

}  // namespace detail

/// What a decision by itself says is not met.
inline Unmet unmet_by(decide::Decision const& d) {
  Unmet unmet;
  for (auto const& reason : d.reasons) {
    if (reason.status != decide::Status::stop && reason.code != "hold_longer") continue;
    auto const found = std::find_if(detail::need_of_reason.begin(), detail::need_of_reason.end(),
                                    [&](auto const& n) { return n.code == reason.code; });
    unmet.insert(found == detail::need_of_reason.end() ? Need::model : found->need);
  }
  return unmet;
}

/// Refuses what cannot be searched. @throws InputError
inline void check(Reach const& r) {
  process::detail::check("coldest_resin", r.coldest_resin, limits::coldest_resin, " K");
  process::detail::check("hottest_fill", r.hottest_fill, limits::hottest_fill, " K");
  process::detail::check("longest_hold", r.longest_hold, limits::longest_hold, " s");
}

/// @throws InputError for options that contradict each other or the case
inline Needs needs_of(Case const& c, Options const& o) {
  auto const hold = process::planned_hold(c);
  if (!hold) {
    throw InputError("stages", "no held stage", "a held stage, because advice is on release");
  }
  if (o.working && o.reserve) {
    throw InputError("reserve_min", detail::minutes(*o.reserve),
                     "not together with working, which says it all");
  }
  double const reserve = o.reserve.value_or(usual_reserve), from = hold->first;
  process::detail::check("reserve", reserve, limits::reserve, " s");
  Needs n{o.working.value_or(from + reserve), o.working.has_value(), 0.0, o.release_by, from};
  process::detail::check("working", n.working, {.low = 0.0, .high = 2e7}, " s");
  if (n.working < from) {
    throw InputError("working", detail::minutes(n.working),
                     "at least " + detail::minutes(from) + ", when the case holds the liner");
  }
  n.reserve = n.working - from;
  if (n.release_by && !(*n.release_by > n.working)) {
    throw InputError(
        "release_by", detail::minutes(*n.release_by),
        "later than " + detail::minutes(n.working) + ", when the liner may still come");
  }
  return n;
}

}  // namespace cure::advise
