#pragma once
/// Small, mildly stiff systems (0-D cure) by Boost.Odeint's controlled Dormand-Prince 5(4) with
/// dense output (J.R. Dormand, P.J. Prince, J. Comput. Appl. Math. 6, 19, 1980), kept as a
/// Trajectory.

#include <boost/numeric/odeint/util/unwrap_reference.hpp>
// The steppers below need the line above first.
#include <algorithm>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <cstddef>
#include <vector>

#include "cure/error.hpp"
#include "cure/numerics/run_control.hpp"
#include "cure/numerics/trajectory.hpp"

namespace cure::numerics {

/// How far the cubic Hermite dense output of a step strays from the equation: its greatest error,
/// taken from the defect at the point where a quartic's defect is greatest, in units of the
/// tolerance.
template <class Slope>
double dense_error(Slope const& slope, std::vector<double> const& y0, std::vector<double> const& f0,
                   std::vector<double> const& y1, std::vector<double> const& f1, double t0,
                   double t1, double tolerance) {
  double const h = t1 - t0;
  double const s = 0.5 - std::sqrt(3.0) / 6.0;
  auto const w = hermite_weights(t0, t1, t0 + s * h);
  std::vector<double> y(y0.size()), f(y0.size());
  for (std::size_t i = 0; i < y.size(); ++i) y[i] = w(y0[i], f0[i], y1[i], f1[i]);
  slope(y, f, t0 + s * h);
  double worst = 0.0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    double const chord = (y1[i] - y0[i]) / h;
    double const along = 6.0 * s * (1.0 - s) * chord + (1.0 - s) * (1.0 - 3.0 * s) * f0[i] +
                         s * (3.0 * s - 2.0) * f1[i];
    // A quartic's error is h/384 where its defect is sqrt(3)/216.
    double const error = std::abs(along - f[i]) * h * 216.0 / (384.0 * std::sqrt(3.0));
    worst = std::max(worst, error / (tolerance * (1.0 + std::abs(y[i]))));
  }
  return worst;
}

/// @param slope callable (state, slope&, t)
/// @param corners times that the solve must land on, ascending, ending with the last time [s]
/// @param tolerance absolute and relative, local; the dense output keeps ten times that
/// @throws SolverError when a state stops being finite or no step can be made
template <class Slope>
Trajectory solve_nonstiff(Slope const& slope, std::vector<double> y, double t0,
                          std::vector<double> const& corners, double tolerance) {
  namespace odeint = boost::numeric::odeint;
  using State = std::vector<double>;
  using Dopri5 = odeint::runge_kutta_dopri5<State>;
  Trajectory path(y.size());
  State f(y.size()), y_old, f_old(y.size());
  slope(y, f, t0);
  path.append(t0, y, f);
  double t = t0;
  double step = 1e-4 * (corners.back() - t0);
  for (double const stop : corners) {
    if (!(stop > t)) continue;
    odeint::controlled_runge_kutta<Dopri5> stepper(
        odeint::default_error_checker<double, typename Dopri5::algebra_type,
                                      typename Dopri5::operations_type>(tolerance, tolerance));
    std::size_t tries = 0;
    while (t < stop) {
      may_stop(32 * std::max<std::size_t>(32, y.size()));
      if (++tries > 1000000 || !(step > 1e-14 * std::max(1.0, std::abs(t)))) {
        throw SolverError("no further step could be made", t);
      }
      double h = step;
      bool const lands = t + h * (1.0 + 1e-9) >= stop;
      if (lands) h = stop - t;
      double const before = t, tried = h;
      y_old = y;
      f_old = f;
      if (stepper.try_step(slope, y, t, h) != odeint::success) {
        step = h;
        continue;
      }
      if (lands) t = stop;
      for (double const v : y) {
        if (!std::isfinite(v)) throw SolverError("a state is no longer finite", before);
      }
      slope(y, f, t);
      double const error = dense_error(slope, y_old, f_old, y, f, before, t, 10.0 * tolerance);
      double const fit = std::clamp(0.9 * std::pow(std::max(error, 1e-8), -0.25), 0.2, 5.0);
      if (error > 1.0) {
        y = y_old;
        f = f_old;
        t = before;
        stepper.reset();
        step = tried * fit;
        continue;
      }
      // try_step has put its next proposal into h; a step cut short to land says little about it.
      step = std::min(lands ? std::max(step, h) : h, tried * fit * (lands ? 5.0 : 1.0));
      path.append(t, y, f);
    }
  }
  return path;
}

}  // namespace cure::numerics
