#pragma once
/// What happens at the inner and outer surface of a wall: a fixed temperature, convection to a
/// medium with radiation exchanged and absorbed, a given flux, or nothing. Each value may follow a
/// schedule.
///
/// A surface at T_s that convects, absorbs q (sun) and radiates to surroundings at T_r takes in
///   h (T_medium - T_s) + q + eps sigma (T_r^4 - T_s^4)                              [W/m2]
/// where h is given or follows from T_s and T_medium by a correlation (see air_film.hpp). This is
/// linearised about the surface's present temperature, which gives the exact heat and its slope
/// there: the surface then acts as if convecting with h + 4 eps sigma T_s^3 to one medium (the
/// sol-air temperature; ASHRAE Handbook - Fundamentals, non-residential cooling load chapter). A
/// linearly implicit step needs no more.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/error.hpp"
#include "cure/heat/air_film.hpp"
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
  std::optional<AirFilm> film = std::nullopt;  ///< gives the coefficient in place of `h`

  /// Whether the heat is more than linear in the surface's temperature.
  [[nodiscard]] bool curved() const { return emissivity != 0.0 || film.has_value(); }
  /// Heat-transfer coefficient for a surface at T_s [K].
  [[nodiscard]] double coefficient(double t, double T_s) const {
    return film ? film->h(T_s, temperature.at(t), film->wind.at(t)) : h.at(t);
  }
};

struct Flux {
  Schedule flux;  ///< into the wall [W/m2]
};

using Boundary = std::variant<Insulated, FixedTemperature, Convection, Flux>;

/// Heat into the cell behind a surface, Q - G T_cell [W], with the rates of change of Q and G.
/// With radiation or a correlation this is the tangent at the cell temperature it was asked for.
/// @tparam T double, or a pack of cases
template <class T>
struct SurfaceLoadOf {
  T G{};   ///< [W/K]
  T Q{};   ///< [W]
  T dG{};  ///< [W/(K s)]
  T dQ{};  ///< [W/s]

  /// At a temperature of the cell [K].
  [[nodiscard]] T heat(T const& cell) const { return Q - G * cell; }
  /// Its rate of change while that stays [W/s].
  [[nodiscard]] T heat_change(T const& cell) const { return dQ - dG * cell; }
};

using SurfaceLoad = SurfaceLoadOf<double>;

/// Heat into a surface at T_s per area, and how it changes with T_s and with time.
struct SurfaceHeat {
  double q = 0.0;         ///< [W/m2]
  double per_K = 0.0;     ///< dq/dT_s, below 0 [W/(m2 K)]
  double per_time = 0.0;  ///< [W/(m2 s)]
};

inline SurfaceHeat surface_heat(Convection const& medium, double t, double T_s) {
  double const T_m = medium.temperature.at(t), dT_m = medium.temperature.slope(t);
  SurfaceHeat out;
  if (auto const& film = medium.film) {
    double const wind = film->wind.at(t), gust = film->wind.slope(t);
    auto const convected = [&](double surface, double air, double speed) {
      return film->h(surface, air, speed) * (air - surface);
    };
    // Central differences: a W-method asks no more of slopes than that they be near.
    double const e = 1e-3;
    out.q = convected(T_s, T_m, wind);
    out.per_K = (convected(T_s + e, T_m, wind) - convected(T_s - e, T_m, wind)) / (2.0 * e);
    if (dT_m != 0.0) {
      double const slope = convected(T_s, T_m + e, wind) - convected(T_s, T_m - e, wind);
      out.per_time += slope / (2.0 * e) * dT_m;
    }
    if (gust != 0.0) {
      double const w = 1e-4 * (1.0 + wind);
      out.per_time += (convected(T_s, T_m, wind + w) - convected(T_s, T_m, wind)) / w * gust;
    }
  } else {
    double const h = medium.h.at(t);
    out.q = h * (T_m - T_s);
    out.per_K = -h;
    out.per_time = medium.h.slope(t) * (T_m - T_s) + h * dT_m;
  }
  double const es = medium.emissivity * stefan_boltzmann;
  double const T_r = medium.surroundings.at(t);
  out.q += medium.absorbed.at(t) + es * (T_r * T_r * T_r * T_r - T_s * T_s * T_s * T_s);
  out.per_K -= 4.0 * es * T_s * T_s * T_s;
  out.per_time +=
      medium.absorbed.slope(t) + 4.0 * es * T_r * T_r * T_r * medium.surroundings.slope(t);
  return out;
}

/// Temperature of a surface whose cell has temperature T [K].
/// @param half_cell thermal resistance from the surface to the cell's node, per area [m2 K/W]
inline double surface_temperature(Convection const& medium, double t, double half_cell, double T) {
  // Without what is curved the balance is linear, and that answer is the first guess. From above
  // the warmest of all, Newton falls to the root of the increasing, convex radiation.
  double const h = medium.coefficient(t, T);
  double surface = (h * medium.temperature.at(t) + medium.absorbed.at(t) + T / half_cell) /
                   (h + 1.0 / half_cell);
  if (!medium.curved()) return surface;
  if (medium.emissivity != 0.0) surface = std::max(surface, medium.surroundings.at(t));
  surface = std::max(surface, 1.0);
  for (int i = 0; i < 50; ++i) {
    auto const heat = surface_heat(medium, t, surface);
    double const step = (heat.q - (surface - T) / half_cell) / (1.0 / half_cell - heat.per_K);
    surface = std::max(surface + step, 1.0);
    if (std::abs(step) < 1e-12 * surface) break;
  }
  return surface;
}

/// @param area of the surface [m2]
/// @param half_cell thermal resistance from the surface to the cell's node [K/W]
/// @param T of the cell [K]; matters only where the surface radiates or its h is a correlation
inline SurfaceLoad surface_load(Boundary const& boundary, double t, double area, double half_cell,
                                double T) {
  SurfaceLoad load;
  if (auto const* fixed = std::get_if<FixedTemperature>(&boundary)) {
    load.G = 1.0 / half_cell;
    load.Q = load.G * fixed->temperature.at(t);
    load.dQ = load.G * fixed->temperature.slope(t);
  } else if (auto const* medium = std::get_if<Convection>(&boundary)) {
    if (medium->curved()) {
      double const T_s = surface_temperature(*medium, t, half_cell * area, T);
      auto const heat = surface_heat(*medium, t, T_s);
      double const s = 1.0 - heat.per_K * area * half_cell;
      load.G = -heat.per_K * area / s;
      load.Q = load.G * T + heat.q * area;
      load.dQ = heat.per_time * area / s;
      return load;
    }
    // G = h A / (1 + h A R), and what is absorbed enters through the same resistance pair.
    double const h = medium->h.at(t);
    double const dh = medium->h.slope(t);
    double const s = 1.0 + h * area * half_cell;
    double const ds = dh * area * half_cell;
    load.G = h * area / s;
    load.dG = dh * area / (s * s);
    double const through = medium->absorbed.at(t) * area / s;
    load.Q = load.G * medium->temperature.at(t) + through;
    load.dQ = load.dG * medium->temperature.at(t) + load.G * medium->temperature.slope(t) +
              medium->absorbed.slope(t) * area / s - through * ds / s;
  } else if (auto const* flux = std::get_if<Flux>(&boundary)) {
    load.Q = flux->flux.at(t) * area;
    load.dQ = flux->flux.slope(t) * area;
  }
  return load;
}

/// The same for surfaces whose heat is linear in their temperature.
/// @throws InputError for one that radiates or follows a correlation
inline SurfaceLoad surface_load(Boundary const& boundary, double t, double area, double half_cell) {
  if (auto const* medium = std::get_if<Convection>(&boundary);
      medium != nullptr && medium->curved()) {
    throw InputError("surface", "one that radiates or follows a correlation",
                     "neither where the cell's temperature is not given");
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
    take(medium->film ? medium->film->wind : medium->h);
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
           !medium->curved();
  }
  if (auto const* flux = std::get_if<Flux>(&boundary)) return flux->flux.constant();
  return true;
}

/// One leg of a heating cycle: go to a temperature at a steady rate, then stay.
struct CycleLeg {
  double target = 0.0;  ///< [K]
  double rate = 0.0;    ///< of heating or cooling, above 0 [K/s]
  double hold = 0.0;    ///< [s]

  bool operator==(CycleLeg const&) const = default;
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
