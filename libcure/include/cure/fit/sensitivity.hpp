#pragma once
/// Solves a few equations y' = f(t, y) together with the sensitivities of y to the parameters: y
/// and f are dual numbers, so each step carries the variational equations along exactly as it
/// carries the states. Steps are explicit until the equations turn out stiff, and linearly implicit
/// from there on (trial_steps.hpp).

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "cure/error.hpp"
#include "cure/fit/path.hpp"
#include "cure/fit/trial_steps.hpp"
#include "cure/scalar.hpp"

namespace cure::fit {

/// @param system as trial_steps.hpp wants it
/// @param stops ascending; steps land on each, the last is the end [s]
/// @param done called with (values y) after each step; true ends the solve
/// @throws SolverError when no step can be made or a state stops being finite
template <class Scalar, class System, class Done>
Path<Scalar> solve_with_sensitivities(System const& system, std::span<Scalar const> y0, double t0,
                                      std::vector<double> const& stops, SolveControl const& control,
                                      Done const& done) {
  auto const n = y0.size();
  Path<Scalar> path;
  States<Scalar> y{}, f{};
  std::copy(y0.begin(), y0.end(), y.begin());
  system.slopes(t0, y.data(), f.data());
  path.append(t0, y, f, {});
  ExplicitStep<Scalar> forward;
  ImplicitStep<Scalar> implicit;
  Trial<Scalar> trial;
  double t = t0;
  double const span = stops.back() - t0;
  double step = 1e-3 * span;
  // The first step must not jump over the reaction: no state may move by more than a hundredth.
  for (std::size_t i = 0; i < n; ++i) {
    double const slope = std::abs(value_of(f[i]));
    if (slope * step > 0.01) step = 0.01 / slope;
  }
  std::size_t steps = 0, unstable = 0;
  bool stiff = false;
  for (double const stop : stops) {
    while (t < stop) {
      if (++steps > control.max_steps) throw SolverError("too many steps", t);
      bool const lands = t + step * (1.0 + 1e-9) >= stop;
      double const h = lands ? stop - t : step;
      if (stiff) {
        implicit.attempt(system, n, t, h, y, f, control, trial);
      } else {
        forward.attempt(system, n, t, h, y, f, control, trial);
      }
      double const order = stiff ? ImplicitStep<Scalar>::order : ExplicitStep<Scalar>::order;
      double const factor = std::isfinite(trial.norm)
                                ? std::clamp(0.9 * std::pow(trial.norm, -1.0 / order), 0.2, 4.0)
                                : 0.2;
      // A corner of the law (alpha reaching 1 at an order below 1) is passed in tiny steps.
      if (trial.norm <= 1.0 || (std::isfinite(trial.norm) && h <= 1e-9 * span)) {
        t = lands ? stop : t + h;
        y = trial.y;
        f = trial.f;
        path.append(t, y, f, trial.bend);
        if (done(y)) return path;
        // A step cut short to land says little: keep the longer proposal.
        step = lands && factor > 1.0 ? std::max(step, h * factor) : h * factor;
        // More often than not: stability, no longer the error, holds the step.
        if (trial.stiffness > ExplicitStep<Scalar>::stable) {
          stiff = stiff || ++unstable >= 6;
        } else if (unstable > 0) {
          --unstable;
        }
      } else {
        step = h * factor;
        if (!(step > 1e-13 * span)) throw SolverError("no further step could be made", t);
      }
    }
  }
  return path;
}

}  // namespace cure::fit
