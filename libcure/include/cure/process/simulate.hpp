#pragma once
/// Runs a case's stages in order, state carried over. One solver for every wall.

#include <algorithm>
#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/heat/conduction.hpp"
#include "cure/kinetics/batch.hpp"
#include "cure/process/case.hpp"
#include "cure/process/history.hpp"
#include "cure/process/section_stage.hpp"
#include "cure/process/section_wall.hpp"
#include "cure/process/solve_wall.hpp"
#include "cure/process/stage_wall.hpp"
#include "cure/process/validate.hpp"
#include "cure/process/wall.hpp"

namespace cure::process {

class Simulation {
 public:
  /// @param c outlives the simulation
  /// @throws InputError when the case cannot be (see validate)
  explicit Simulation(Case const& c) : case_(validated(c)), carried_(c) {}

  Simulation(Case const&&) = delete;

  /// Called with the history up to and with a held stage; the time on the job's clock at which to
  /// end the hold [s]. One that has passed when the stage starts leaves it out.
  using ReleaseRule = std::function<std::optional<double>(History const&)>;

  /// All stages. @throws SolverError, InputError when it takes too much, Stopped
  History run(ReleaseRule const& release) {
    History history;
    meter_ = numerics::RunMeter(case_.discretisation.limits);
    auto const hold = held_stages(case_);
    bool out = false;
    for (std::size_t i = 0; i < case_.stages.size(); ++i) {
      auto const& stage = case_.stages[i];
      if (out && i <= hold->second) continue;
      auto part = std::visit([&](auto const& s) { return run_stage(s); }, stage);
      part.start = carried_.clock;
      part.kind = kind(stage);
      history.push_back(std::move(part));
      auto& last = history.back();
      if (auto const* held = std::get_if<Held>(&stage); held && held->until_release) {
        auto const t = release(history);
        out = t.has_value();
        // A sum of durations is not exact.
        if (t && *t < last.start + 1e-3 && i > hold->first) {
          history.pop_back();
          continue;
        }
        if (t) last.path.truncate(*t - last.start);
      }
      carry(last);
      carried_.pass(stage, last.path.times().back());
    }
    return history;
  }

 private:
  StageHistory run_stage(MixedMass const& s) {
    StageHistory part;
    part.path =
        kinetics::cure_lumped(case_.resin, {s.mass, s.surface_area, s.h, s.ambient},
                              carried_.resin_temperature, carried_.resin_states, s.duration);
    part.states = carried_.resin_states.size();
    part.steps = part.path.times().size() - 1;
    return part;
  }
  template <class WallStage>
  StageHistory run_stage(WallStage const& s) {
    auto setup = stage_wall(case_, carried_.clock, s);
    if (setup.host && case_.section) return run_section(setup, s.duration);
    auto conduction = conduction_of(case_, std::move(setup));
    StageHistory part;
    part.mesh = conduction.mesh();
    Wall wall(std::move(conduction), case_.resin.rate, part.mesh.find("liner"),
              case_.heat_of_laminate(), case_.discretisation.tolerance,
              laminate_properties(case_.resin, case_.neat_resin(), case_.liner.fibre,
                                  case_.liner.fibre_volume_fraction));
    part.cells = wall.cells();
    part.first_reacting = wall.reacting().front();
    part.reacting = part.rows = wall.reacting_cells();
    part.states = wall.states();

    std::vector<double> y;
    add_initial_temperatures(case_, carried_, part.mesh, y);
    add_initial_cure(carried_, part.reacting, y);
    solve(wall, std::move(y), s.duration, part);
    auto const& body = wall.conduction();
    if (auto const* inside = std::get_if<heat::Convection>(&body.inner())) {
      part.film = film_use(*inside, inner_half_cell(part.mesh), part.path, 0);
    } else if (auto const* outside = std::get_if<heat::Convection>(&body.outer())) {
      part.film = film_use(*outside, outer_half_cell(part.mesh), part.path, part.cells - 1);
    }
    return part;
  }

  /// The same with columns that differ (see section_stage.hpp).
  StageHistory run_section(StageWall const& setup, double duration) {
    auto const& s = *case_.section;
    auto const layers = wall_layers(case_, setup.bladder, setup.host);
    StageHistory part;
    SectionWall wall(section_conduction(case_, s, layers, setup.inner, setup.outer),
                     case_.resin.rate, "liner", case_.heat_of_laminate(),
                     case_.discretisation.tolerance,
                     laminate_properties(case_.resin, case_.neat_resin(), case_.liner.fibre,
                                         case_.liner.fibre_volume_fraction));
    part.section = std::make_shared<heat::SectionMesh const>(wall.conduction().mesh());
    auto const m = part.columns();
    part.mesh = part.section->column.front();
    part.mesh.layers.assign(layers.begin(), layers.end());  // by their own names, also in a gap
    part.cells = wall.cells();
    part.reacting = wall.reacting_cells();
    part.resin.assign(wall.reacting().begin(), wall.reacting().end());
    part.rows = part.mesh.layers[part.mesh.find("liner")].cells;
    part.first_reacting = part.resin.front();
    part.states = wall.states();

    std::vector<double> y;
    for (auto const& layer : layers) {
      auto const T = initial_temperature(case_, carried_, layer);
      bool const by_row = T.size() == layer.cells;
      auto cells = by_cell(T, layer.cells, m);
      bool const lay_in_ground = layer.name == "pipe" || layer.name == "ground";
      for (std::size_t k = 0; k < cells.size() && by_row && lay_in_ground; ++k) {
        cells[k] += s.offset(part.section->position(k % m));
      }
      y.insert(y.end(), cells.begin(), cells.end());
    }
    auto const cure = carried_cure(part);
    y.insert(y.end(), cure.begin(), cure.end());
    solve(wall, std::move(y), duration, part);
    if (auto const* inside = std::get_if<heat::Convection>(&setup.inner)) {
      for (std::size_t j = 0; j < m; ++j) {
        part.film = wider(
            part.film, film_use(*inside, inner_half_cell(part.section->column[j]), part.path, j));
      }
    }
    return part;
  }

  /// Cure states of the resin cells of a section.
  [[nodiscard]] std::vector<double> carried_cure(StageHistory const& part) const {
    auto const m = part.columns(), liner = part.mesh.find("liner");
    auto const first = part.mesh.first[liner];
    std::vector<double> cure;
    for (std::size_t k = 0; k < part.states; ++k) {
      for (std::size_t j = 0; j < part.reacting; ++j) {
        if (carried_.cure.empty()) {
          cure.push_back(carried_.resin_states[k]);
        } else if (carried_.cure.size() == part.states * part.rows) {
          cure.push_back(carried_.cure[k * part.rows + part.resin[j] / m - first]);
        } else {
          cure.push_back(carried_.cure[k * part.reacting + j]);
        }
      }
    }
    return cure;
  }

  template <class AnyWall>
  void solve(AnyWall& wall, std::vector<double> y, double duration, StageHistory& part) {
    y.resize(wall.size(), 0.0);
    auto solution = solve_wall(wall, std::move(y), duration, meter_);
    part.path = std::move(solution.path);
    part.steps = solution.steps;
    part.rejections = solution.rejections;
    part.energy_residual = solution.energy_residual;
  }

  void carry(StageHistory const& part) {
    auto const last = part.path.state(part.path.times().size() - 1);
    if (part.lumped()) {
      carried_.resin_temperature = last[0];
      carried_.resin_states = part.cure_states(last, 0);
      return;
    }
    carried_.take(part.mesh, part.columns(), last,
                  last.subspan(part.cells, part.states * part.reacting));
  }

  static Case const& validated(Case const& c) {
    validate(c);
    return c;
  }

  Case const& case_;
  CarriedState carried_;
  numerics::RunMeter meter_;
};

}  // namespace cure::process
