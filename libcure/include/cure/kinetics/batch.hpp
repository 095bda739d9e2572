#pragma once
/// 0-D cure: isothermal, and a lumped mass that heats itself and loses heat through its surface,
///   m c_p dT/dt = m H d(alpha)/dt - h A (T - T_ambient),
/// solved by Boost.Odeint steppers.

#include <array>
#include <cmath>
#include <utility>
#include <vector>

#include "cure/kinetics/resin.hpp"
#include "cure/numerics/nonstiff.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/numerics/trajectory.hpp"

namespace cure::kinetics {

/// Degree of cure at constant temperature.
/// @param T [K], @param alpha0 initial degree of cure, @param duration [s]
/// @return trajectory of [alpha]
inline numerics::Trajectory cure_isothermal(Resin<double> const& resin, double T, double alpha0,
                                            double duration, double tolerance = 1e-9) {
  auto const slope = [&](std::array<double, 1> const& y, std::array<double, 1>& f, double) {
    f[0] = resin.rate.at(T, y[0]).value;
  };
  return numerics::solve_nonstiff<1>(slope, {alpha0}, 0.0, {duration}, tolerance);
}

/// A mass of mixed resin at one temperature.
struct LumpedMass {
  double mass = 0.0;           ///< [kg]
  double surface_area = 0.0;   ///< [m2]; 0 makes it adiabatic
  numerics::Schedule h;        ///< [W/(m2 K)]
  numerics::Schedule ambient;  ///< [K]
};

/// @param T0 initial temperature [K]
/// @return trajectory of [T, alpha]
inline numerics::Trajectory cure_lumped(Resin<double> const& resin, LumpedMass const& body,
                                        double T0, double alpha0, double duration,
                                        double tolerance = 1e-8) {
  double const capacity = body.mass * resin.specific_heat;
  auto const slope = [&](std::array<double, 2> const& y, std::array<double, 2>& f, double t) {
    f[1] = resin.rate.at(y[0], y[1]).value;
    f[0] = (body.mass * resin.heat_of_reaction * f[1] -
            body.h.at(t) * body.surface_area * (y[0] - body.ambient.at(t))) /
           capacity;
  };
  std::vector<double> corners;
  for (auto const* s : {&body.h, &body.ambient}) {
    if (s->constant()) continue;
    for (double const t : s->times()) {
      if (t > 0.0 && t < duration) corners.push_back(t);
    }
  }
  corners.push_back(duration);
  std::sort(corners.begin(), corners.end());
  return numerics::solve_nonstiff<2>(slope, {T0, alpha0}, 0.0, corners, tolerance);
}

}  // namespace cure::kinetics
