#pragma once
/// When something happens on a dense solution: the search for the time at which a number turns from
/// negative to not negative.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/numerics/trajectory.hpp"

#if CURE_INSIDE
#include <boost/math/tools/toms748_solve.hpp>
#endif

namespace cure::numerics {

/// A number that is negative before an event and not negative after it.
using EventFunction = std::function<double(std::span<double const> state)>;

/// Root of g(t) between two times [s], to a microsecond; an end where g has turned before, or only
/// turns after it.
CURE_FUNCTION double turning_time(std::function<double(double)> const& g, double before,
                                  double after);
#if CURE_DEFINES(NUMERICS)
CURE_FUNCTION double turning_time(std::function<double(double)> const& g, double before,
                                  double after) {
  double const g0 = g(before), g1 = g(after);
  if (g0 >= 0.0) return before;
  if (g1 <= 0.0) return after;
  std::uintmax_t iterations = 100;
  auto const close = [](double a, double b) { return std::abs(b - a) < 1e-6; };
  // The far end of the bracket: the event has certainly happened there.
  return boost::math::tools::toms748_solve(g, before, after, g0, g1, close, iterations).second;
}
#endif

/// The same number by time on a path [s from its start].
using EventInTime = std::function<double(double t)>;

/// Whether it is not negative, where that is sooner said than the number.
using TurnInTime = std::function<bool(double t)>;

/// First time at which g >= 0 [s], looked for at the accepted states and three points within each
/// step. @param turned says the same of g; left out, g is asked. @param lasting once turned it
/// stays so: a few of the times are asked then
CURE_FUNCTION std::optional<double> first_turn(Trajectory const& path, EventInTime const& g,
                                               TurnInTime const& turned = {}, bool lasting = false);
#if CURE_DEFINES(NUMERICS)
CURE_FUNCTION std::optional<double> first_turn(Trajectory const& path, EventInTime const& g,
                                               TurnInTime const& turned, bool lasting) {
  auto const met = [&](double t) { return turned ? turned(t) : g(t) >= 0.0; };
  auto const times = path.refined_times(3);
  if (lasting && (times.empty() || !met(times.back()))) return std::nullopt;
  auto const at =
      lasting ? std::partition_point(times.begin(), times.end(), [&](double t) { return !met(t); })
              : std::find_if(times.begin(), times.end(), met);
  if (at == times.end()) return std::nullopt;
  return at == times.begin() ? *at : turning_time(g, *(at - 1), *at);
}
#endif

/// Earliest time from which on g >= 0 to the end of the trajectory [s].
CURE_FUNCTION std::optional<double> lasting_turn(Trajectory const& path, EventInTime const& g);
#if CURE_DEFINES(NUMERICS)
CURE_FUNCTION std::optional<double> lasting_turn(Trajectory const& path, EventInTime const& g) {
  auto const times = path.refined_times(3);
  std::optional<double> after;
  for (std::size_t i = times.size(); i-- > 0;) {
    if (g(times[i]) < 0.0) {
      return after ? std::optional(turning_time(g, times[i], *after)) : std::nullopt;
    }
    after = times[i];
  }
  return after;
}
#endif

/// An event of the state as one in time. Both look at the path and at g for as long as they are
/// asked.
inline EventInTime in_time(Trajectory const& path, EventFunction const& g) {
  return [&path, &g, y = std::vector<double>(path.width())](double t) mutable {
    path.state_at(t, y);
    return g(y);
  };
}
inline std::optional<double> first_event(Trajectory const& path, EventFunction const& g) {
  return first_turn(path, in_time(path, g));
}
inline std::optional<double> lasting_event(Trajectory const& path, EventFunction const& g) {
  return lasting_turn(path, in_time(path, g));
}

}  // namespace cure::numerics
