#pragma once
/// Runs a case's stages in order, state carried over. One solver for every wall.

#include <algorithm>
#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/heat/conduction.hpp"
#include "cure/kinetics/batch.hpp"
#include "cure/process/case.hpp"
#include "cure/process/history.hpp"
#include "cure/process/solve_wall.hpp"

namespace cure::process {

/// What one stage hands to the next.
struct CarriedState {
  double resin_temperature = 0.0;      ///< of the mixed mass [K]
  std::vector<double> resin_states;    ///< cure states of the mixed mass, alpha first [-]
  std::vector<double> bladder, liner;  ///< temperatures by cell [K]; empty until first built
  std::vector<double> pipe, ground;    ///< [K]
  std::vector<double> cure;            ///< cure states, each by liner cell [-]
};

/// Layers of the wall in a stage, inside to outside.
inline std::vector<heat::Layer> wall_layers(Case const& c, bool bladder, bool host) {
  std::vector<heat::Layer> layers;
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

class Simulation {
 public:
  /// @throws InputError when stages are out of order or the geometry is impossible
  explicit Simulation(Case const& c) : case_(c) {
    carried_.resin_temperature = c.initial.resin;
    carried_.resin_states = c.resin.rate.initial(c.resin.initial_degree_of_cure);
  }

  /// Called with a held stage's history; the time on the job's clock at which to end it [s].
  using ReleaseRule = std::function<std::optional<double>(StageHistory const&)>;

  /// All stages. @throws SolverError
  History run(ReleaseRule const& release) {
    History history;
    double clock = 0.0;
    for (auto const& stage : case_.stages) {
      auto part = std::visit([&](auto const& s) { return run_stage(s); }, stage);
      part.start = clock;
      part.kind = kind(stage);
      if (auto const* held = std::get_if<Held>(&stage); held && held->until_release) {
        if (auto const t = release(part)) part.path.truncate(*t - clock);
      }
      carry(part);
      clock = part.end();
      history.push_back(std::move(part));
    }
    return history;
  }

 private:
  StageHistory run_stage(MixedMass const& s) const {
    StageHistory part;
    part.path =
        kinetics::cure_lumped(case_.resin, {s.mass, s.surface_area, s.h, s.ambient},
                              carried_.resin_temperature, carried_.resin_states, s.duration);
    part.states = carried_.resin_states.size();
    part.steps = part.path.times().size() - 1;
    return part;
  }
  StageHistory run_stage(WetOut const& s) const {
    return run_wall(s.on_packer, false, heat::Insulated{}, free_face(s), s.duration);
  }
  StageHistory run_stage(Held const& s) const {
    return run_wall(true, true, inner_face(s), outer_face(case_.ground), s.duration);
  }
  StageHistory run_stage(AfterRelease const& s) const {
    return run_wall(false, true, inner_face(s), outer_face(case_.ground), s.duration);
  }

  StageHistory run_wall(bool bladder, bool host, heat::Boundary inner, heat::Boundary outer,
                        double duration) const {
    auto const layers = wall_layers(case_, bladder, host);
    double const radius = case_.bore_radius() - (bladder ? case_.bladder.thickness : 0.0);
    heat::Conduction conduction(heat::make_mesh(heat::Geometry::cylinder, radius, layers),
                                std::move(inner), std::move(outer));
    StageHistory part;
    part.mesh = conduction.mesh();
    Wall wall(std::move(conduction), case_.resin.rate, part.mesh.find("liner"),
              case_.heat_of_laminate(), case_.discretisation.tolerance,
              laminate_properties(case_.resin, case_.neat_resin(), case_.liner.fibre,
                                  case_.liner.fibre_volume_fraction));
    part.cells = wall.cells();
    part.first_reacting = wall.first_reacting();
    part.reacting = wall.reacting_cells();
    part.states = wall.states();

    std::vector<double> y;
    for (auto const& layer : part.mesh.layers) {
      auto const T = initial_temperature(layer);
      y.insert(y.end(), T.begin(), T.end());
    }
    auto cure = carried_.cure;
    if (cure.empty()) {
      for (double const x : carried_.resin_states) cure.insert(cure.end(), part.reacting, x);
    }
    y.insert(y.end(), cure.begin(), cure.end());
    y.resize(wall.size(), 0.0);

    auto solution = solve_wall(wall, std::move(y), duration);
    part.path = std::move(solution.path);
    part.steps = solution.steps;
    part.rejections = solution.rejections;
    part.energy_residual = solution.energy_residual;
    auto const& body = wall.conduction();
    if (auto const* inside = std::get_if<heat::Convection>(&body.inner())) {
      part.film = film_use(*inside, body.inner_half_cell(), part.path, 0);
    } else if (auto const* outside = std::get_if<heat::Convection>(&body.outer())) {
      part.film = film_use(*outside, body.outer_half_cell(), part.path, part.cells - 1);
    }
    return part;
  }

  [[nodiscard]] std::vector<double> initial_temperature(heat::Layer const& layer) const {
    auto const carried_or = [&](std::vector<double> const& carried, double T) {
      return carried.empty() ? std::vector<double>(layer.cells, T) : carried;
    };
    if (layer.name == "bladder") return carried_or(carried_.bladder, case_.initial.packer);
    if (layer.name == "liner") return carried_or(carried_.liner, wet_temperature());
    if (layer.name == "pipe") return carried_or(carried_.pipe, case_.initial.pipe);
    return carried_or(carried_.ground, case_.ground.temperature.at(0.0));
  }

  /// Temperature of resin and fibre after they met, by their heat capacities [K].
  [[nodiscard]] double wet_temperature() const {
    double const v = case_.liner.fibre_volume_fraction;
    double const resin = (1.0 - v) * case_.neat_resin().heat_capacity();
    double const fibre = v * case_.liner.fibre.heat_capacity();
    return (resin * carried_.resin_temperature + fibre * case_.initial.fibre) / (resin + fibre);
  }

  void carry(StageHistory const& part) {
    auto const last = part.path.state(part.path.times().size() - 1);
    if (part.lumped()) {
      carried_.resin_temperature = last[0];
      carried_.resin_states = part.cure_states(last, 0);
      return;
    }
    auto const take = [&](char const* name, std::vector<double>& into) {
      auto const l = part.mesh.find(name);
      if (l == part.mesh.layers.size()) return;
      auto const cells = last.subspan(part.mesh.first[l], part.mesh.layers[l].cells);
      into.assign(cells.begin(), cells.end());
    };
    take("bladder", carried_.bladder);
    take("liner", carried_.liner);
    take("pipe", carried_.pipe);
    take("ground", carried_.ground);
    auto const cure = last.subspan(part.cells, part.states * part.reacting);
    carried_.cure.assign(cure.begin(), cure.end());
  }

  Case const& case_;
  CarriedState carried_;
};

}  // namespace cure::process
