#pragma once
/// One wall stage of a case as the benchmarks solve it: the library's own mesh, coefficients and
/// boundaries, and the state that the earlier stages leave.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "cure/error.hpp"
#include "cure/io/case_file.hpp"
#include "cure/process/simulate.hpp"

namespace cure::benchmark {

struct StageWall {
  process::Case repair;
  heat::Conduction conduction;
  double duration = 0.0;      ///< [s]
  std::vector<double> start;  ///< temperatures [K], then degrees of cure

  /// A wall of these cells, with the heat of full cure in the liner.
  [[nodiscard]] process::Wall wall(process::Tolerance tolerance) const {
    auto const& mesh = conduction.mesh();
    return {conduction, repair.resin.rate, mesh.find("liner"), repair.heat_of_laminate(),
            tolerance};
  }
};

/// All cells of a case, in proportion, so that the held wall has about `cells`; 0 leaves them.
inline void set_cells(process::Case& c, std::size_t cells) {
  if (cells == 0) return;
  auto& n = c.discretisation;
  double const scale =
      static_cast<double>(cells) / static_cast<double>(n.bladder + n.liner + n.pipe + n.ground);
  for (auto* count : {&n.bladder, &n.liner, &n.pipe, &n.ground}) {
    *count =
        static_cast<std::size_t>(std::max(2.0, std::round(static_cast<double>(*count) * scale)));
  }
}

/// @param cells of the held wall; 0 takes the case's own
/// @param kind of the stage, e.g. "held"
/// @param duration [s]; 0 takes the stage's own
/// @throws InputError for a stage that is not there, or that the peers' equations do not cover
inline StageWall stage_wall(std::string const& path, std::string const& models, std::size_t cells,
                            std::string const& kind, double duration) {
  auto c = io::load_case(path, io::ModelLibrary{{std::filesystem::path(models)}});
  set_cells(c, cells);
  // The earlier stages are solved far more tightly than anything compared.
  auto tight = c;
  tight.discretisation.tolerance = {1e-6, 1e-9};
  std::size_t index = 0;
  while (index < c.stages.size() && process::name(process::kind(c.stages[index])) != kind) ++index;
  if (index == c.stages.size() || kind == "mixed_mass") {
    throw InputError("stage", kind, "wet_out, held or after_release, one that the case has");
  }
  tight.stages.resize(index + 1);
  std::visit([](auto& s) { s.duration = 1.0; }, tight.stages[index]);
  auto const history = process::Simulation(tight).run(
      [](process::History const&) { return std::optional<double>(); });
  auto const& part = history.back();
  if (part.states != 1) throw InputError("resin", c.resin.id, "one cure state");
  if (!process::laminate_properties(c.resin, c.neat_resin(), c.liner.fibre,
                                    c.liner.fibre_volume_fraction)
           .constant()) {
    throw InputError("resin", c.resin.id, "constant specific heat and conductivity");
  }
  auto const around = std::visit(
      [&](auto const& s) -> process::StageWall {
        if constexpr (requires { process::stage_wall(c, part.start, s); }) {
          return process::stage_wall(c, part.start, s);
        }
        return {};
      },
      c.stages[index]);
  auto const first = part.path.state(0).first(part.cells + part.reacting);
  StageWall stage{c,
                  heat::Conduction(part.mesh, around.inner, around.outer),
                  duration > 0.0 ? duration : process::duration(c.stages[index]),
                  {first.begin(), first.end()}};
  if (!stage.conduction.corners().empty()) {
    throw InputError("stage", kind, "boundaries that do not change with time");
  }
  return stage;
}

}  // namespace cure::benchmark
