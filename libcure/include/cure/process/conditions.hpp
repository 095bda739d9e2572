#pragma once
/// What a case's surfaces and ground come to: the boundaries of each stage's wall, how good the far
/// radius is, and which coefficients the correlations gave.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <variant>

#include "cure/heat/boundary.hpp"
#include "cure/heat/ground.hpp"
#include "cure/numerics/trajectory.hpp"
#include "cure/process/case.hpp"

namespace cure::process {

/// What the wet laminate's free face meets.
inline heat::Convection free_face(WetOut const& s) {
  return {s.h, s.ambient, s.absorbed_sun, s.emissivity, s.surroundings, s.film};
}
/// What the inner face of a wall in the pipe meets.
inline heat::Convection inner_face(Held const& s) {
  return {s.h, s.fill_temperature, 0.0, 0.0, 0.0, s.film};
}
inline heat::Convection inner_face(AfterRelease const& s) {
  return {s.h, s.bore_temperature, 0.0, 0.0, 0.0, s.film};
}
/// What lies outside the outermost cell of a wall in the pipe. @param start of its stage, from
/// mixing, as the ground's own times are [s]
inline heat::Boundary outer_face(Ground const& ground, double start) {
  if (ground.water) {
    return heat::Convection{ground.water->h, ground.water->temperature.later(start)};
  }
  return heat::FixedTemperature{ground.temperature.later(start)};
}

/// Soil between the pipe and the end of the model [m]; 0 where water moves past the pipe itself.
inline double soil_thickness(Case const& c) {
  double const soil = c.ground.radius - c.outer_radius();
  return soil > 1e-9 ? soil : 0.0;
}

/// Time for which the ground is disturbed [s].
inline double time_in_ground(Case const& c) {
  double total = 0.0;
  for (auto const& s : c.stages) {
    if (std::holds_alternative<Held>(s) || std::holds_alternative<AfterRelease>(s)) {
      total += duration(s);
    }
  }
  return total;
}

/// Largest diffusivity that the ground has, thawed or frozen [m2/s].
inline double largest_diffusivity(heat::Material const& ground) {
  double const thawed = ground.diffusivity();
  if (!ground.varying || !ground.freezing) return thawed;
  auto const& ice = *ground.freezing;
  return std::max(thawed, ice.conductivity / (ground.density * ice.specific_heat));
}

/// A far radius of four diffusion lengths: a surface step decays to erfc(2) = 0.5 % there even in
/// the plane (H.S. Carslaw, J.C. Jaeger, "Conduction of Heat in Solids", 2nd ed., 1959, sec. 2.4)
/// [m].
inline double far_radius(Case const& c) {
  double const depth = 4.0 * std::sqrt(largest_diffusivity(c.ground.material) * time_in_ground(c));
  return c.outer_radius() + std::max(0.1, depth);
}

/// Share by which the pipe's temperature rise may be wrong when the ground ends `distance` [m]
/// outside it (see heat::far_radius_error) [-].
inline double end_of_ground_error(Case const& c, double distance) {
  double const time = time_in_ground(c);
  if (!(time > 0.0)) return 0.0;
  return heat::far_radius_error(distance, largest_diffusivity(c.ground.material), time);
}

/// Thermal resistance between a wall's inner face and the node behind it, per area [m2 K/W].
inline double inner_half_cell(heat::Mesh const& wall) {
  double const k = wall.layers.front().material.conductivity, face = wall.face.front();
  return heat::shell_resistance(wall.geometry, face, wall.node.front(), k) *
         heat::surface_area(wall.geometry, face);
}
/// The same at the outer face.
inline double outer_half_cell(heat::Mesh const& wall) {
  double const k = wall.layers.back().material.conductivity, face = wall.face.back();
  return heat::shell_resistance(wall.geometry, wall.node.back(), face, k) *
         heat::surface_area(wall.geometry, face);
}

/// Coefficients that a correlation gave in a stage.
struct FilmUse {
  double low = std::numeric_limits<double>::infinity();  ///< [W/(m2 K)]
  double high = 0.0;                                     ///< [W/(m2 K)]
  bool in_range = true;  ///< of the correlation's source, throughout
};

/// @param half_cell thermal resistance from the surface to the node behind it, per area [m2 K/W]
/// @param cell whose temperature the path holds there
/// @returns nothing when the coefficient is given
inline std::optional<FilmUse> film_use(heat::Convection const& medium, double half_cell,
                                       numerics::Trajectory const& path, std::size_t cell) {
  if (!medium.film) return std::nullopt;
  FilmUse use;
  for (std::size_t i = 0; i < path.times().size(); ++i) {
    double const t = path.times()[i];
    double const surface = heat::surface_temperature(medium, t, half_cell, path.state(i)[cell]);
    double const h = medium.coefficient(t, surface);
    use.low = std::min(use.low, h);
    use.high = std::max(use.high, h);
    use.in_range = use.in_range && medium.film->in_range(surface, medium.temperature.at(t),
                                                         medium.film->wind.at(t));
  }
  return use;
}

/// What two parts of a surface took together.
inline std::optional<FilmUse> wider(std::optional<FilmUse> const& a,
                                    std::optional<FilmUse> const& b) {
  if (!a || !b) return a ? a : b;
  return FilmUse{std::min(a->low, b->low), std::max(a->high, b->high), a->in_range && b->in_range};
}

}  // namespace cure::process
