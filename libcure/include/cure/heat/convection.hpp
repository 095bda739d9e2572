#pragma once
/// Heat-transfer coefficients at the air and water sides of a wall, from published correlations.
/// Each returns a Nusselt number Nu = h D/k and refuses arguments outside the range of its source;
/// the formulas alone, for boundaries that report it instead, are in namespace correlation.
///
/// open air around a level pipe or packer:
///   free    S.W. Churchill, H.H.S. Chu, Int. J. Heat Mass Transfer 18, 1049, 1975
///   wind    S.W. Churchill, M. Bernstein, J. Heat Transfer 99, 300, 1977
/// closed, air- or water-filled bladder:
///   L.B. Evans, N.E. Stefany, Chem. Eng. Prog. Symp. Ser. 62(64), 209, 1966 (from memory, by way
///   of J.P. Holman, "Heat Transfer"); not below pure conduction
/// Air: ideal gas; viscosity and conductivity of the U.S. Standard Atmosphere (1976, eqs. 51, 53).

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>

#include "cure/error.hpp"
#include "cure/units.hpp"

namespace cure::heat {

inline constexpr double standard_gravity = 9.80665;      ///< [m/s2], exact
inline constexpr double standard_atmosphere = 101325.0;  ///< [Pa], exact

namespace detail {

inline void require(char const* field, double value, double low, double high) {
  if (!(value >= low && value <= high)) {
    auto const text = [](double x) {
      char buffer[32];
      std::snprintf(buffer, sizeof buffer, "%.4g", x);
      return std::string(buffer);
    };
    throw InputError(field, text(value), text(low) + " to " + text(high));
  }
}

}  // namespace detail

/// A fluid at one temperature and pressure.
struct Fluid {
  double density = 0.0;        ///< [kg/m3]
  double viscosity = 0.0;      ///< dynamic [Pa s]
  double conductivity = 0.0;   ///< [W/(m K)]
  double specific_heat = 0.0;  ///< [J/(kg K)]
  double expansion = 0.0;      ///< volumetric, at constant pressure [1/K]

  [[nodiscard]] double kinematic_viscosity() const { return viscosity / density; }
  [[nodiscard]] double prandtl() const { return viscosity * specific_heat / conductivity; }
};

/// Ra = g beta |dT| D^3/(nu alpha) [-].
inline double rayleigh(Fluid const& f, double difference, double diameter) {
  double const nu = f.kinematic_viscosity();
  return standard_gravity * f.expansion * std::abs(difference) * diameter * diameter * diameter /
         (nu * nu) * f.prandtl();
}

/// Re = u D/nu [-].
inline double reynolds(Fluid const& f, double speed, double diameter) {
  return speed * diameter / f.kinematic_viscosity();
}

namespace correlation {

inline Fluid air(double T, double pressure) {
  constexpr double specific_gas_constant = gas_constant / 28.9644e-3;
  double const root = T * std::sqrt(T);
  Fluid a;
  a.density = pressure / (specific_gas_constant * T);
  a.viscosity = 1.458e-6 * root / (T + 110.4);
  a.conductivity = 2.64638e-3 * root / (T + 245.4 * std::pow(10.0, -12.0 / T));
  a.specific_heat = 1007.0;
  a.expansion = 1.0 / T;
  return a;
}

inline double free_cylinder(double Ra, double Pr) {
  double const shape = std::pow(1.0 + std::pow(0.559 / Pr, 9.0 / 16.0), 8.0 / 27.0);
  double const root = 0.60 + 0.387 * std::pow(Ra, 1.0 / 6.0) / shape;
  return root * root;
}

inline double crossflow(double Re, double Pr) {
  double const laminar =
      0.62 * std::sqrt(Re) * std::cbrt(Pr) / std::pow(1.0 + std::pow(0.4 / Pr, 2.0 / 3.0), 0.25);
  return 0.3 + laminar * std::pow(1.0 + std::pow(Re / 282000.0, 5.0 / 8.0), 0.8);
}

/// The larger of free convection and wind.
inline double open_air(double Ra, double Re, double Pr) {
  double const still = free_cylinder(Ra, Pr);
  return Re * Pr >= 0.2 ? std::max(still, crossflow(Re, Pr)) : still;
}

inline double inside_cylinder(double Ra) { return std::max(0.55 * std::sqrt(std::sqrt(Ra)), 8.0); }

}  // namespace correlation

/// Dry air. The specific heat is constant: within 0.5 % from 220 to 400 K.
/// @param T usually the film temperature, the mean of surface and air [K], 200 to 500
/// @param pressure absolute [Pa], 1e4 to 1e6
/// @throws InputError
inline Fluid air(double T, double pressure = standard_atmosphere) {
  detail::require("air temperature [K]", T, 200.0, 500.0);
  detail::require("air pressure [Pa]", pressure, 1e4, 1e6);
  return correlation::air(T, pressure);
}

/// Free convection around a long level cylinder (Churchill & Chu 1975), all laminar and turbulent:
///   Nu = {0.60 + 0.387 Ra^(1/6)/[1 + (0.559/Pr)^(9/16)]^(8/27)}^2
/// @param Ra on the diameter, 0 to 1e12; below 1e-5 the formula is its own limit 0.36
/// @throws InputError
inline double nusselt_free_cylinder(double Ra, double Pr) {
  detail::require("Rayleigh number", Ra, 0.0, 1e12);
  detail::require("Prandtl number", Pr, 1e-3, 1e5);
  return correlation::free_cylinder(Ra, Pr);
}

/// Flow across a long cylinder (Churchill & Bernstein 1977):
///   Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3)/[1 + (0.4/Pr)^(2/3)]^(1/4) [1 + (Re/282000)^(5/8)]^(4/5)
/// @param Re on the diameter, up to 1e7, with Re Pr at least 0.2
/// @throws InputError
inline double nusselt_crossflow(double Re, double Pr) {
  detail::require("Reynolds number", Re, 0.0, 1e7);
  detail::require("Prandtl number", Pr, 1e-3, 1e5);
  detail::require("Reynolds times Prandtl number", Re * Pr, 0.2, 1e12);
  return correlation::crossflow(Re, Pr);
}

/// Inside a closed level cylinder whose fluid, of mean temperature T, warms or cools slowly:
///   Nu = max(0.55 Ra^(1/4), 8)
/// 0.55 is Evans & Stefany's; their data are liquids in cylinders 0.75 to 2 diameters long, on the
/// length. Its use on the diameter, for air and for longer bladders is this project's extension: do
/// not trust it beyond a factor of 1.5. 8 is conduction alone: with the fluid warming everywhere at
/// one rate, the wall differs from the mean by q D/(8 k) (H.S. Carslaw, J.C. Jaeger, "Conduction of
/// Heat in Solids", 2nd ed., 1959, sec. 7.8).
/// @param Ra on the diameter and the difference between wall and mean fluid, 0 to 1e9
/// @throws InputError
inline double nusselt_inside_cylinder(double Ra) {
  detail::require("Rayleigh number", Ra, 0.0, 1e9);
  return correlation::inside_cylinder(Ra);
}

/// Air around a level pipe or packer: the larger of free convection and wind [W/(m2 K)].
/// @param surface,ambient [K]
/// @param diameter [m]
/// @param wind across the cylinder, 0 for still air [m/s]
/// @throws InputError
inline double h_open_air(double surface, double ambient, double diameter, double wind = 0.0,
                         double pressure = standard_atmosphere) {
  detail::require("diameter [m]", diameter, 1e-3, 10.0);
  detail::require("wind [m/s]", wind, 0.0, 60.0);
  auto const film = air(0.5 * (surface + ambient), pressure);
  double const Ra = rayleigh(film, surface - ambient, diameter);
  double const Re = reynolds(film, wind, diameter);
  detail::require("Rayleigh number", Ra, 0.0, 1e12);
  detail::require("Reynolds number", Re, 0.0, 1e7);
  return correlation::open_air(Ra, Re, film.prandtl()) * film.conductivity / diameter;
}

/// Air closed in an inflated bladder [W/(m2 K)].
/// @param wall,fill temperatures of the bladder's inner face and of the air, mean [K]
/// @param diameter inside the bladder [m]
/// @param pressure absolute [Pa]; inflated to 1 bar over the atmosphere it is 201325
/// @throws InputError
inline double h_closed_bladder(double wall, double fill, double diameter,
                               double pressure = standard_atmosphere) {
  detail::require("diameter [m]", diameter, 1e-3, 10.0);
  auto const film = air(0.5 * (wall + fill), pressure);
  return nusselt_inside_cylinder(rayleigh(film, wall - fill, diameter)) * film.conductivity /
         diameter;
}

/// Radiation between a grey surface and large or black surroundings as a coefficient [W/(m2 K)]:
///   h_r = eps sigma (T1 + T2)(T1^2 + T2^2), exact for these two temperatures [K].
/// @throws InputError when the emissivity is outside 0 to 1
inline double h_radiation(double emissivity, double T1, double T2) {
  detail::require("emissivity", emissivity, 0.0, 1.0);
  return emissivity * stefan_boltzmann * (T1 + T2) * (T1 * T1 + T2 * T2);
}

}  // namespace cure::heat
