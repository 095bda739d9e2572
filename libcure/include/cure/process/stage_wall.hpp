#pragma once
/// What the wall of a stage is made of and what surrounds it, and what one stage hands to the next.

#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/heat/conduction.hpp"
#include "cure/process/case.hpp"
#include "cure/process/conditions.hpp"

namespace cure::process {

/// What one stage hands to the next.
struct CarriedState {
  double clock = 0.0;                  ///< when the next stage starts, from mixing [s]
  double resin_temperature = 0.0;      ///< of the mixed mass [K]
  std::vector<double> resin_states;    ///< cure states of the mixed mass, alpha first [-]
  double idle_bladder = 0.0;           ///< of one that is not in place [K]
  std::vector<double> bladder, liner;  ///< temperatures by cell [K]; empty: not in place
  std::vector<double> pipe, ground;    ///< [K]
  std::vector<double> cure;            ///< cure states, each by liner cell [-]

  explicit CarriedState(Case const& c)
      : resin_temperature(c.initial.resin),
        resin_states(c.resin.rate.initial(c.resin.initial_degree_of_cure)),
        idle_bladder(c.initial.packer) {}

  /// After a stage that took so long [s]. A bladder that was down is as warm as the air about it: a
  /// choice of this project.
  void pass(Stage const& stage, double duration) {
    clock += duration;
    auto const* down = std::get_if<AfterRelease>(&stage);
    if (down == nullptr) return;
    bladder.clear();
    idle_bladder = down->bore_temperature.at(duration);
  }

  /// Takes over what a wall's stage ends with; layers that it lacks stay as they were.
  /// @param T temperatures of the cells, row by row [K]
  void take(heat::Mesh const& mesh, std::size_t columns, std::span<double const> T,
            std::span<double const> cure_states) {
    auto const layer = [&](char const* name, std::vector<double>& into) {
      auto const l = mesh.find(name);
      if (l == mesh.layers.size()) return;
      auto const cells = T.subspan(columns * mesh.first[l], columns * mesh.layers[l].cells);
      into.assign(cells.begin(), cells.end());
    };
    layer("bladder", bladder);
    layer("liner", liner);
    layer("pipe", pipe);
    layer("ground", ground);
    cure.assign(cure_states.begin(), cure_states.end());
  }
};

/// Layers of the wall in a stage, inside to outside.
inline std::vector<heat::Layer> wall_layers(Case const& c, bool bladder, bool host) {
  std::vector<heat::Layer> layers;
  layers.reserve(4);
  auto const& n = c.discretisation;
  if (bladder) {
    layers.push_back({"bladder", c.bladder.thickness, c.bladder.material, n.bladder, 1.0,
                      c.contact.bladder_liner});
  }
  layers.push_back(
      {"liner", c.liner.thickness, c.laminate(), n.liner, 1.0, host ? c.contact.liner_pipe : 0.0});
  if (host) {
    double const soil = soil_thickness(c);
    double const pipe_cell = c.pipe.wall / static_cast<double>(n.pipe);
    layers.push_back({"pipe", c.pipe.wall, c.pipe.material, n.pipe, 1.0, c.contact.pipe_ground});
    if (soil > 0.0) {
      layers.push_back({"ground", soil, c.ground.material, n.ground,
                        heat::growth_from_first_cell(soil, n.ground, 2.0 * pipe_cell), 0.0});
    }
  }
  return layers;
}

/// The wall of a stage, its layers as wall_layers gives them.
struct StageWall {
  bool bladder = false, host = false;
  heat::Boundary inner, outer;
};

/// `start` is that of the stage, from mixing [s].
inline StageWall stage_wall(Case const& /*c*/, double /*start*/, WetOut const& s) {
  return {s.on_packer, false, heat::Insulated{}, free_face(s)};
}
inline StageWall stage_wall(Case const& c, double start, Held const& s) {
  return {true, true, inner_face(s), outer_face(c.ground, start)};
}
inline StageWall stage_wall(Case const& c, double start, AfterRelease const& s) {
  return {false, true, inner_face(s), outer_face(c.ground, start)};
}

/// Its mesh, coefficients and boundaries in one dimension.
inline heat::Conduction conduction_of(Case const& c, StageWall wall) {
  double const radius = c.bore_radius() - (wall.bladder ? c.bladder.thickness : 0.0);
  return {
      heat::make_mesh(heat::Geometry::cylinder, radius, wall_layers(c, wall.bladder, wall.host)),
      std::move(wall.inner), std::move(wall.outer)};
}

/// Temperature of resin and fibre after they met, by their heat capacities [K].
inline double wet_temperature(Case const& c, CarriedState const& before) {
  double const v = c.liner.fibre_volume_fraction;
  double const resin = (1.0 - v) * c.neat_resin().heat_capacity();
  double const fibre = v * c.liner.fibre.heat_capacity();
  return (resin * before.resin_temperature + fibre * c.initial.fibre) / (resin + fibre);
}

/// Temperatures of a layer's cells at the start of a stage [K].
inline std::vector<double> initial_temperature(Case const& c, CarriedState const& before,
                                               heat::Layer const& layer) {
  auto const carried_or = [&](std::vector<double> const& carried, double T) {
    return carried.empty() ? std::vector<double>(layer.cells, T) : carried;
  };
  if (layer.name == "bladder") return carried_or(before.bladder, before.idle_bladder);
  if (layer.name == "liner") return carried_or(before.liner, wet_temperature(c, before));
  if (layer.name == "pipe") return carried_or(before.pipe, c.initial.pipe);
  return carried_or(before.ground, c.ground.temperature.at(0.0));
}

/// The same of all layers, appended to T.
inline void add_initial_temperatures(Case const& c, CarriedState const& before,
                                     heat::Mesh const& mesh, std::vector<double>& T) {
  for (auto const& layer : mesh.layers) {
    auto const cells = initial_temperature(c, before, layer);
    T.insert(T.end(), cells.begin(), cells.end());
  }
}

/// Cure states of the liner's cells at the start of a stage, each state by cell, appended to y.
inline void add_initial_cure(CarriedState const& before, std::size_t cells,
                             std::vector<double>& y) {
  y.insert(y.end(), before.cure.begin(), before.cure.end());
  if (!before.cure.empty()) return;
  for (double const x : before.resin_states) y.insert(y.end(), cells, x);
}

}  // namespace cure::process
