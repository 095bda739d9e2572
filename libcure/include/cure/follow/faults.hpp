#pragma once
/// Which readings can be a wall's temperature, and which cannot: each fault found, said, and left
/// out. The limits are this project's own choice, common practice without a source.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include "cure/follow/wall_faults.hpp"

namespace cure::follow {

inline constexpr double settling =
    120.0;  ///< in which probe and faces come together, once held [s]
inline constexpr double longest_gap = 900.0;  ///< [s]
inline constexpr double gap_spacings = 10.0;  ///< the same, times the usual spacing

namespace detail {

inline constexpr double lowest = 233.15, highest = 523.15;  ///< a broken probe reads outside [K]
inline constexpr double unlike = 1.0;  ///< of one moment that may both be right [K]

inline void missing(Screening& s) {
  s.mark_good("missing", "{many} without a number ({at}); not used.",
              [](double, double T) { return !std::isfinite(T); });
}

inline void outside_hold(Screening& s, std::pair<double, double> const& held) {
  double const begin = held.first, end = held.second;
  s.mark_good("before_mixing", "{many} before mixing ({at}); not used. Times count from mixing.",
              [](double time, double) { return time < 0.0; });
  s.mark_good("before_held",
              "{many} before the liner has lain against the pipe for " + number(settling / 60.0) +
                  " min (it is held from " + number(begin / 60.0) + " min); not used.",
              [from = begin + settling](double time, double) { return time < from; });
  s.mark_good(
      "after_hold",
      "{many} after the end of the hold in the case, " + number(end / 60.0) + " min; not used.",
      [end](double time, double) { return time > end; });
}

inline void doubles(Screening& s) {
  Indices different, repeated;
  auto const all = s.good();
  for (std::size_t i = 0; i < all.size();) {
    std::size_t end = i;
    while (end < all.size() && s.t(all[end]) == s.t(all[i])) ++end;
    // Equal times are in order of temperature.
    bool const differ = s.T(all[end - 1]) - s.T(all[i]) > unlike;
    auto& those = differ ? different : repeated;
    for (std::size_t k = differ ? i : i + 1; k < end; ++k) those.push_back(all[k]);
    i = end;
  }
  s.mark(different, "doubled",
         "{many} give different temperatures for one and the same moment ({at}); not used.");
  s.mark(repeated, "repeated", "{many} given twice ({at}); used once.");
}

inline void out_of_range(Screening& s) {
  s.mark_good("out_of_range",
              "{many} outside " + number(celsius_from_kelvin(lowest)) + " to " +
                  number(celsius_from_kelvin(highest)) +
                  " °C ({at}): is the wire broken? Not used.",
              [](double, double T) { return T < lowest || T > highest; });
}

}  // namespace detail

/// Sorts readings by time and finds those that cannot be the wall's.
/// @param held from when to when the liner is held [s]
/// @param wall as it may be at the probe's place before the readings
/// @param medium temperatures of the air, then the bladder's fill, at the wall's grid [K]
inline Screened screen(Readings const& readings, std::pair<double, double> const& held,
                       WallRange const& wall, Eigen::VectorXd const& medium) {
  detail::Screening s(readings);
  detail::WallFaults against(s, wall, medium);
  detail::missing(s);
  detail::outside_hold(s, held);
  detail::doubles(s);
  against.units();
  detail::out_of_range(s);
  against.dead();
  against.stuck();
  against.fallen_off();
  against.spikes();
  return s.done();
}

/// Time since the last good reading [s] when it is too long to speak for now.
/// @param times of the good readings, rising, at least one [s], @param now [s]
inline std::optional<double> find_gap(Eigen::VectorXd const& times, double now) {
  std::vector<double> spacing;
  for (Eigen::Index i = 1; i < times.size(); ++i) spacing.push_back(times(i) - times(i - 1));
  double const usual = spacing.empty() ? 0.0 : median(spacing);
  double const since = now - times(times.size() - 1);
  bool const long_ago = since > std::max(longest_gap, gap_spacings * usual);
  return long_ago ? std::optional(since) : std::nullopt;
}

}  // namespace cure::follow
