#pragma once
/// What a simulation leaves: for each stage the mesh it ran on and its dense solution.

#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cure/heat/mesh2.hpp"
#include "cure/numerics/trajectory.hpp"
#include "cure/process/conditions.hpp"

namespace cure::process {

struct StageHistory {
  StageKind kind = StageKind::mixed_mass;
  double start = 0.0;  ///< on the job's clock, which starts at mixing [s]
  heat::Mesh mesh;     ///< empty for the mixed mass; of the first column in two dimensions
  std::shared_ptr<heat::Mesh2 const> section;  ///< null in one dimension
  std::size_t cells = 1;
  std::size_t first_reacting = 0;
  std::size_t reacting = 1;
  std::vector<std::size_t> resin;  ///< the reacting cells; empty: the consecutive ones
  std::size_t states = 1;          ///< cure states of each reacting cell, alpha first
  numerics::Trajectory path;       ///< times from the stage's start [s]; state as in Wall
  double energy_residual = 0.0;
  std::size_t steps = 0, rejections = 0;
  std::optional<FilmUse> film;  ///< where a correlation gave the coefficient at the air's side

  [[nodiscard]] bool lumped() const { return mesh.node.empty(); }
  [[nodiscard]] double end() const { return start + path.times().back(); }
  [[nodiscard]] std::span<double const> temperature(std::span<double const> state) const {
    return state.first(cells);
  }
  /// Columns side by side; 1 in one dimension.
  [[nodiscard]] std::size_t columns() const { return section ? section->columns() : 1; }
  /// Cell of reacting cell j.
  [[nodiscard]] std::size_t resin_cell(std::size_t j) const {
    return resin.empty() ? first_reacting + j : resin[j];
  }
  /// Radius of a cell's node [m].
  [[nodiscard]] double radius(std::size_t cell) const {
    auto const m = columns();
    return (section ? section->column[cell % m] : mesh).node[cell / m];
  }
  /// Index of a cell's layer, and the layer as it is in that column.
  [[nodiscard]] std::size_t layer_index(std::size_t cell) const {
    return mesh.layer[cell / columns()];
  }
  [[nodiscard]] heat::Layer const& layer(std::size_t cell) const {
    auto const m = columns();
    return (section ? section->column[cell % m] : mesh).layers[layer_index(cell)];
  }
  [[nodiscard]] std::span<double const> alpha(std::span<double const> state) const {
    return state.subspan(cells, reacting);
  }
  /// All cure states of reacting cell j.
  [[nodiscard]] std::vector<double> cure_states(std::span<double const> state,
                                                std::size_t j) const {
    std::vector<double> x;
    for (std::size_t k = 0; k < states; ++k) x.push_back(state[cells + k * reacting + j]);
    return x;
  }
};

using History = std::vector<StageHistory>;

}  // namespace cure::process
