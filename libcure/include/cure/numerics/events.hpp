#pragma once
/// When something happens on a dense solution: the search for the time at which a number turns from
/// negative to not negative.

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

/// Root of the event function on the dense output between two times of opposite sign [s].
CURE_FUNCTION double crossing(Trajectory const& path, EventFunction const& g, double before,
                              double after);
#if CURE_DEFINES(NUMERICS)
CURE_FUNCTION double crossing(Trajectory const& path, EventFunction const& g, double before,
                              double after) {
  std::vector<double> y(path.width());
  return turning_time(
      [&](double t) {
        path.state_at(t, y);
        return g(y);
      },
      before, after);
}
#endif

/// First time at which g >= 0 [s], looked for at the accepted states and three points within each
/// step.
CURE_FUNCTION std::optional<double> first_event(Trajectory const& path, EventFunction const& g);
#if CURE_DEFINES(NUMERICS)
CURE_FUNCTION std::optional<double> first_event(Trajectory const& path, EventFunction const& g) {
  std::vector<double> y(path.width());
  std::optional<double> before;
  for (double const t : path.refined_times(3)) {
    path.state_at(t, y);
    if (g(y) >= 0.0) return before ? crossing(path, g, *before, t) : t;
    before = t;
  }
  return std::nullopt;
}
#endif

/// Earliest time from which on g >= 0 to the end of the trajectory [s].
CURE_FUNCTION std::optional<double> lasting_event(Trajectory const& path, EventFunction const& g);
#if CURE_DEFINES(NUMERICS)
CURE_FUNCTION std::optional<double> lasting_event(Trajectory const& path, EventFunction const& g) {
  std::vector<double> y(path.width());
  auto const times = path.refined_times(3);
  std::optional<double> after;
  for (std::size_t i = times.size(); i-- > 0;) {
    path.state_at(times[i], y);
    if (g(y) < 0.0)
      return after ? std::optional(crossing(path, g, times[i], *after)) : std::nullopt;
    after = times[i];
  }
  return after;
}
#endif

}  // namespace cure::numerics
