#pragma once
/// What several tests need: a wall without cure, and a solve to a given time.

#include <vector>

#include "cure/heat/conduction.hpp"
#include "cure/numerics/rosenbrock.hpp"
#include "cure/process/wall.hpp"

namespace cure::test {

inline process::Wall inert_wall(heat::Conduction conduction, double tolerance = 1e-5) {
  auto const none = conduction.mesh().layers.size();
  return {std::move(conduction), {}, none, 0.0, {tolerance, tolerance}};
}

/// One homogeneous layer.
inline heat::Conduction one_layer(heat::Geometry geometry, double inner_radius, double thickness,
                                  heat::Material const& material, std::size_t cells,
                                  heat::Boundary inner, heat::Boundary outer) {
  std::vector<heat::Layer> const layers{{"body", thickness, material, cells, 1.0, 0.0}};
  return {heat::make_mesh(geometry, inner_radius, layers), std::move(inner), std::move(outer)};
}

inline std::vector<double> uniform_state(process::Wall const& wall, double T, double alpha = 0.0) {
  std::vector<double> y(wall.size(), 0.0);
  for (std::size_t i = 0; i < wall.cells(); ++i) y[i] = T;
  for (std::size_t j = 0; j < wall.reacting_cells(); ++j) y[wall.cells() + j] = alpha;
  return y;
}

/// State at `end` [s]; lands on each corner of the boundaries' schedules.
inline std::vector<double> solve(process::Wall& wall, std::vector<double> const& y0, double end) {
  numerics::DenseStepper<process::Wall> stepper;
  stepper.initialize(y0, 0.0, 0.0);
  auto stops = wall.conduction().corners();
  stops.push_back(end);
  std::sort(stops.begin(), stops.end());
  for (double const stop : stops) {
    while (stop <= end && stepper.current_time() < stop) stepper.do_step(wall, stop);
  }
  return stepper.current_state();
}

/// Temperature at the centre of a body, extrapolated from its two innermost nodes with zero slope.
inline double centre_temperature(heat::Mesh const& mesh, std::vector<double> const& y) {
  double const a = mesh.node[0] * mesh.node[0], b = mesh.node[1] * mesh.node[1];
  return (y[0] * b - y[1] * a) / (b - a);
}

}  // namespace cure::test
