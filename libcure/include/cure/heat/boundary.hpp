#pragma once
/// What happens at the inner and outer surface of a wall: a fixed temperature, convection to a
/// medium with absorbed radiation, a given flux, or nothing. Each value may follow a schedule.
///
/// Absorbed flux q at a convecting surface acts as a medium that is q/h warmer (the sol-air
/// temperature; ASHRAE Handbook - Fundamentals, non-residential cooling load chapter).

#include <cmath>
#include <variant>
#include <vector>

#include "cure/numerics/schedule.hpp"

namespace cure::heat {

using numerics::Schedule;

struct Insulated {};

struct FixedTemperature {
  Schedule temperature;  ///< [K]
};

struct Convection {
  Schedule h;               ///< heat-transfer coefficient [W/(m2 K)]
  Schedule temperature;     ///< of the medium [K]
  Schedule absorbed = 0.0;  ///< radiation absorbed by the surface [W/m2]
};

struct Flux {
  Schedule flux;  ///< into the wall [W/m2]
};

using Boundary = std::variant<Insulated, FixedTemperature, Convection, Flux>;

/// Heat into the cell behind a surface, Q - G T_cell [W], with the rates of change of Q and G.
struct SurfaceLoad {
  double G = 0.0;   ///< [W/K]
  double Q = 0.0;   ///< [W]
  double dG = 0.0;  ///< [W/(K s)]
  double dQ = 0.0;  ///< [W/s]
};

/// @param area of the surface [m2]
/// @param half_cell thermal resistance from the surface to the cell's node [K/W]
inline SurfaceLoad surface_load(Boundary const& boundary, double t, double area, double half_cell) {
  SurfaceLoad load;
  if (auto const* fixed = std::get_if<FixedTemperature>(&boundary)) {
    load.G = 1.0 / half_cell;
    load.Q = load.G * fixed->temperature.at(t);
    load.dQ = load.G * fixed->temperature.slope(t);
  } else if (auto const* medium = std::get_if<Convection>(&boundary)) {
    // G = h A / (1 + h A R), and the absorbed flux enters through the same resistance pair.
    double const h = medium->h.at(t);
    double const dh = medium->h.slope(t);
    double const T = medium->temperature.at(t);
    double const q = medium->absorbed.at(t);
    double const s = 1.0 + h * area * half_cell;
    double const ds = dh * area * half_cell;
    load.G = h * area / s;
    load.dG = dh * area / (s * s);
    double const through = q * area / s;
    load.Q = load.G * T + through;
    load.dQ = load.dG * T + load.G * medium->temperature.slope(t) +
              medium->absorbed.slope(t) * area / s - through * ds / s;
  } else if (auto const* flux = std::get_if<Flux>(&boundary)) {
    load.Q = flux->flux.at(t) * area;
    load.dQ = flux->flux.slope(t) * area;
  }
  return load;
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
  } else if (auto const* flux = std::get_if<Flux>(&boundary)) {
    take(flux->flux);
  }
  return times;
}

}  // namespace cure::heat
