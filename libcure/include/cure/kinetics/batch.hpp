#pragma once
/// 0-D cure: isothermal, along a temperature history, and a lumped mass that heats itself and loses
/// heat through its surface,
///   m c_p dT/dt = m H d(alpha)/dt - h A (T - T_ambient),
/// solved by Boost.Odeint steppers.

#include <vector>

#include "cure/compiled.hpp"
#include "cure/kinetics/resin.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/numerics/trajectory.hpp"

#if CURE_INSIDE
#include "cure/numerics/nonstiff.hpp"
#endif

namespace cure::kinetics {

/// Cure at constant temperature.
/// @param T [K], @param states as CureRate::initial gives them, @param duration [s]
/// @return trajectory of the states, the first of which is alpha
CURE_FUNCTION numerics::Trajectory cure_isothermal(Resin<double> const& resin, double T,
                                                   std::vector<double> const& states,
                                                   double duration, double tolerance = 1e-9);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION numerics::Trajectory cure_isothermal(Resin<double> const& resin, double T,
                                                   std::vector<double> const& states,
                                                   double duration, double tolerance) {
  auto const slope = [&](std::vector<double> const& x, std::vector<double>& f, double) {
    resin.rate.slopes(T, x.data(), f.data());
  };
  return numerics::solve_nonstiff(slope, states, 0.0, {duration}, tolerance);
}
#endif

/// Cure along a given temperature history [K], linear between its points: a ramp, a programme, a
/// thermocouple's log.
/// @return trajectory of the states
CURE_FUNCTION numerics::Trajectory cure_along(Resin<double> const& resin,
                                              numerics::Schedule const& temperature,
                                              std::vector<double> const& states, double duration,
                                              double tolerance = 1e-9);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION numerics::Trajectory cure_along(Resin<double> const& resin,
                                              numerics::Schedule const& temperature,
                                              std::vector<double> const& states, double duration,
                                              double tolerance) {
  auto const slope = [&](std::vector<double> const& x, std::vector<double>& f, double t) {
    resin.rate.slopes(temperature.at(t), x.data(), f.data());
  };
  return numerics::solve_nonstiff(slope, states, 0.0,
                                  numerics::stops_within({&temperature}, duration), tolerance);
}
#endif

/// A mass of mixed resin at one temperature.
struct LumpedMass {
  double mass = 0.0;           ///< [kg]
  double surface_area = 0.0;   ///< [m2]; 0 makes it adiabatic
  numerics::Schedule h;        ///< [W/(m2 K)]
  numerics::Schedule ambient;  ///< [K]
};

/// @param T0 initial temperature [K], @param states as CureRate::initial gives them
/// @return trajectory of [T, states...]
CURE_FUNCTION numerics::Trajectory cure_lumped(Resin<double> const& resin, LumpedMass const& body,
                                               double T0, std::vector<double> const& states,
                                               double duration, double tolerance = 1e-8);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION numerics::Trajectory cure_lumped(Resin<double> const& resin, LumpedMass const& body,
                                               double T0, std::vector<double> const& states,
                                               double duration, double tolerance) {
  auto const& c = resin.specific_heat;
  auto const slope = [&](std::vector<double> const& y, std::vector<double>& f, double t) {
    resin.rate.slopes(y[0], y.data() + 1, f.data() + 1);
    // The heat of reaction holds at T_ref; cured resin of another heat capacity stores the rest.
    double const H = resin.heat_of_reaction - c.reference * c.a_alpha * (y[0] - c.T_ref);
    f[0] = (body.mass * H * f[1] - body.h.at(t) * body.surface_area * (y[0] - body.ambient.at(t))) /
           (body.mass * c.at(y[0], y[1]));
  };
  std::vector<double> y{T0};
  y.insert(y.end(), states.begin(), states.end());
  return numerics::solve_nonstiff(
      slope, y, 0.0, numerics::stops_within({&body.h, &body.ambient}, duration), tolerance);
}
#endif

}  // namespace cure::kinetics
