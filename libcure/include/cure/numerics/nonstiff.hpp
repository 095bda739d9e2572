#pragma once
/// Small, mildly stiff systems (0-D cure) by Boost.Odeint's controlled Dormand-Prince 5(4) with
/// dense output (J.R. Dormand, P.J. Prince, J. Comput. Appl. Math. 6, 19, 1980), kept as a
/// Trajectory.

#include <boost/numeric/odeint/util/unwrap_reference.hpp>
// The steppers below need the line above first.
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <cstddef>
#include <vector>

#include "cure/error.hpp"
#include "cure/numerics/trajectory.hpp"

namespace cure::numerics {

/// @param slope callable (state, slope&, t)
/// @param corners times that the solve must land on, ascending, ending with the last time [s]
/// @param tolerance absolute and relative, local
/// @param samples the longest step is the whole time over this number, for the dense output's sake
/// @throws SolverError when a state stops being finite or no step can be made
template <class Slope>
Trajectory solve_nonstiff(Slope const& slope, std::vector<double> y, double t0,
                          std::vector<double> const& corners, double tolerance,
                          std::size_t samples = 200) {
  namespace odeint = boost::numeric::odeint;
  using State = std::vector<double>;
  Trajectory path(y.size());
  State f(y.size());
  slope(y, f, t0);
  path.append(t0, y, f);
  double t = t0;
  double const longest = (corners.back() - t0) / static_cast<double>(samples);
  double step = 0.01 * longest;
  for (double const stop : corners) {
    if (!(stop > t)) continue;
    using Dopri5 = odeint::runge_kutta_dopri5<State>;
    odeint::controlled_runge_kutta<Dopri5> stepper(
        odeint::default_error_checker<double, typename Dopri5::algebra_type,
                                      typename Dopri5::operations_type>(tolerance, tolerance));
    std::size_t tries = 0;
    while (t < stop) {
      double h = std::min(step, longest);
      bool const lands = t + h * (1.0 + 1e-9) >= stop;
      if (lands) h = stop - t;
      double const before = t;
      if (stepper.try_step(slope, y, t, h) == odeint::success) {
        if (lands) t = stop;
        // try_step has put its next proposal into h; a landing step says little about it.
        step = lands ? std::max(step, h) : h;
        slope(y, f, t);
        for (double const v : y) {
          if (!std::isfinite(v)) throw SolverError("a state is no longer finite", before);
        }
        path.append(t, y, f);
      } else {
        step = h;
      }
      if (++tries > 1000000 || !(step > 1e-14 * std::max(1.0, std::abs(t)))) {
        throw SolverError("no further step could be made", t);
      }
    }
  }
  return path;
}

}  // namespace cure::numerics
