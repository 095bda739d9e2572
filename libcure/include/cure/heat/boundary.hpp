#pragma once
/// What happens at the inner and outer surface of a wall: a fixed temperature, convection to a
/// medium with radiation exchanged and absorbed, a given flux, or nothing. Each value may follow a
/// schedule.
///
/// A surface at T_s that convects, absorbs q (sun) and radiates to surroundings at T_r takes in
///   h (T_medium - T_s) + q + eps sigma (T_r^4 - T_s^4)                              [W/m2]
/// The fourth power is linearised about the surface's present temperature, which gives the exact
/// heat and its exact slope there: the surface then acts as if convecting with h + 4 eps sigma
/// T_s^3 to one medium (the sol-air temperature; ASHRAE Handbook - Fundamentals, non-residential
/// cooling load chapter). A linearly implicit step needs no more.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/error.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/units.hpp"

namespace cure::heat {

using numerics::Schedule;

struct Insulated {};

struct FixedTemperature {
  Schedule temperature;  ///< [K]
};

struct Convection {
  Schedule h;                   ///< heat-transfer coefficient [W/(m2 K)]
  Schedule temperature;         ///< of the medium [K]
  Schedule absorbed = 0.0;      ///< radiation absorbed by the surface [W/m2]
  double emissivity = 0.0;      ///< of the surface, grey, 0: no exchange of radiation [-]
  Schedule surroundings = 0.0;  ///< radiating temperature of all that the surface sees [K]
};

struct Flux {
  Schedule flux;  ///< into the wall [W/m2]
};

using Boundary = std::variant<Insulated, FixedTemperature, Convection, Flux>;

/// Heat into the cell behind a surface, Q - G T_cell [W], with the rates of change of Q and G.
/// With radiation this is the tangent at the cell temperature it was asked for.
struct SurfaceLoad {
  double G = 0.0;   ///< [W/K]
  double Q = 0.0;   ///< [W]
  double dG = 0.0;  ///< [W/(K s)]
  double dQ = 0.0;  ///< [W/s]
};

/// Temperature of a convecting and radiating surface whose cell has temperature T [K].
/// @param half_cell thermal resistance from the surface to the cell's node, per area [m2 K/W]
inline double surface_temperature(Convection const& medium, double t, double half_cell, double T) {
  double const h = medium.h.at(t);
  double const gained = h * medium.temperature.at(t) + medium.absorbed.at(t) + T / half_cell;
  double surface = gained / (h + 1.0 / half_cell);
  if (medium.emissivity == 0.0) return surface;
  // Newton on an increasing, convex function of T_s: from above it falls to the root, never past.
  double const es = medium.emissivity * stefan_boltzmann;
  double const T_r = medium.surroundings.at(t);
  surface = std::max({surface, T_r, 1.0});
  for (int i = 0; i < 50; ++i) {
    double const cubed = surface * surface * surface;
    double const excess = (h + 1.0 / half_cell) * surface + es * cubed * surface - gained -
                          es * T_r * T_r * T_r * T_r;
    double const step = excess / (h + 1.0 / half_cell + 4.0 * es * cubed);
    surface -= step;
    if (std::abs(step) < 1e-13 * surface) break;
  }
  return surface;
}

/// @param area of the surface [m2]
/// @param half_cell thermal resistance from the surface to the cell's node [K/W]
/// @param T of the cell [K]; matters only where the surface radiates
inline SurfaceLoad surface_load(Boundary const& boundary, double t, double area, double half_cell,
                                double T) {
  SurfaceLoad load;
  if (auto const* fixed = std::get_if<FixedTemperature>(&boundary)) {
    load.G = 1.0 / half_cell;
    load.Q = load.G * fixed->temperature.at(t);
    load.dQ = load.G * fixed->temperature.slope(t);
  } else if (auto const* medium = std::get_if<Convection>(&boundary)) {
    // G = h A / (1 + h A R), and what is absorbed enters through the same resistance pair.
    double const convective = medium->h.at(t);
    double const dh = medium->h.slope(t);
    double const T_m = medium->temperature.at(t);
    double h = convective;
    double q = medium->absorbed.at(t);
    double dq = medium->absorbed.slope(t);
    if (medium->emissivity != 0.0) {
      // Tangent of the exchange about the surface, read as radiation to a medium at T_m.
      double const es = medium->emissivity * stefan_boltzmann;
      double const T_s = surface_temperature(*medium, t, half_cell * area, T);
      double const T_r = medium->surroundings.at(t);
      double const h_r = 4.0 * es * T_s * T_s * T_s;
      h += h_r;
      q += es * (T_r * T_r * T_r * T_r - T_s * T_s * T_s * T_s) - h_r * (T_m - T_s);
      dq += 4.0 * es * T_r * T_r * T_r * medium->surroundings.slope(t) -
            h_r * medium->temperature.slope(t);
    }
    double const s = 1.0 + h * area * half_cell;
    double const ds = dh * area * half_cell;
    load.G = h * area / s;
    load.dG = dh * area / (s * s);
    double const through = q * area / s;
    load.Q = load.G * T_m + through;
    load.dQ =
        load.dG * T_m + load.G * medium->temperature.slope(t) + dq * area / s - through * ds / s;
  } else if (auto const* flux = std::get_if<Flux>(&boundary)) {
    load.Q = flux->flux.at(t) * area;
    load.dQ = flux->flux.slope(t) * area;
  }
  return load;
}

/// The same for surfaces that do not radiate.
/// @throws InputError for one that does
inline SurfaceLoad surface_load(Boundary const& boundary, double t, double area, double half_cell) {
  if (auto const* medium = std::get_if<Convection>(&boundary);
      medium != nullptr && medium->emissivity != 0.0) {
    throw InputError("emissivity", std::to_string(medium->emissivity),
                     "0 where the cell's temperature is not given");
  }
  return surface_load(boundary, t, area, half_cell, 0.0);
}

/// Times at which a value of the boundary changes slope [s].
inline std::vector<double> corners(Boundary const& boundary) {
  std::vector<double> times;
  auto const take = [&](Schedule const& s) {
    if (!s.constant()) times.insert(times.end(), s.times().begin(), s.times().end());
  };
  if (auto const* fixed = std::get_if<FixedTemperature>(&boundary)) {
    take(fixed->temperature);
  } else if (auto const* medium = std::get_if<Convection>(&boundary)) {
    take(medium->h);
    take(medium->temperature);
    take(medium->absorbed);
    if (medium->emissivity != 0.0) take(medium->surroundings);
  } else if (auto const* flux = std::get_if<Flux>(&boundary)) {
    take(flux->flux);
  }
  return times;
}

/// Whether the heat that passes at a given cell temperature never changes, and grows in proportion
/// to it.
inline bool steady(Boundary const& boundary) {
  if (auto const* fixed = std::get_if<FixedTemperature>(&boundary)) {
    return fixed->temperature.constant();
  }
  if (auto const* medium = std::get_if<Convection>(&boundary)) {
    return medium->h.constant() && medium->temperature.constant() && medium->absorbed.constant() &&
           medium->emissivity == 0.0;
  }
  if (auto const* flux = std::get_if<Flux>(&boundary)) return flux->flux.constant();
  return true;
}

/// One leg of a heating cycle: go to a temperature at a steady rate, then stay.
struct CycleLeg {
  double target = 0.0;  ///< [K]
  double rate = 0.0;    ///< of heating or cooling, above 0 [K/s]
  double hold = 0.0;    ///< [s]
};

/// Temperature of a medium through heating, holding and cooling down, e.g. the fill of a bladder:
/// {{338.15, 1.5/60, 7200}, {298.15, 0.5/60, 0}} is up to 65 degC at 1.5 K/min, two hours there,
/// down to 25 degC at 0.5 K/min.
/// @param start temperature [K] up to time `begin` [s]
/// @throws InputError
inline Schedule temperature_cycle(double start, std::span<CycleLeg const> legs,
                                  double begin = 0.0) {
  std::vector<double> time{begin}, value{start};
  auto const add = [&](double later, double T) {
    if (!(later > 0.0)) return;
    time.push_back(time.back() + later);
    value.push_back(T);
  };
  for (std::size_t i = 0; i < legs.size(); ++i) {
    auto const& leg = legs[i];
    auto const refuse = [&](char const* what, double x, char const* allowed) {
      throw InputError("cycle[" + std::to_string(i) + "]." + what, std::to_string(x), allowed);
    };
    if (!(leg.target > 0.0) || !std::isfinite(leg.target))
      refuse("target", leg.target, "above 0 K");
    if (!(leg.rate > 0.0) || !std::isfinite(leg.rate)) refuse("rate", leg.rate, "above 0 K/s");
    if (!(leg.hold >= 0.0) || !std::isfinite(leg.hold)) refuse("hold", leg.hold, "0 s or more");
    add(std::abs(leg.target - value.back()) / leg.rate, leg.target);
    add(leg.hold, leg.target);
  }
  return {std::move(time), std::move(value)};
}

}  // namespace cure::heat
