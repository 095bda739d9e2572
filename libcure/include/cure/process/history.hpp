#pragma once
/// What a simulation leaves: for each stage the mesh it ran on and its dense solution.

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cure/heat/mesh.hpp"
#include "cure/numerics/trajectory.hpp"
#include "cure/process/conditions.hpp"

namespace cure::process {

struct StageHistory {
  std::string kind;
  double start = 0.0;  ///< on the job's clock, which starts at mixing [s]
  heat::Mesh mesh;     ///< empty for the mixed mass
  std::size_t cells = 1;
  std::size_t first_reacting = 0;
  std::size_t reacting = 1;
  std::size_t states = 1;     ///< cure states of each reacting cell, alpha first
  numerics::Trajectory path;  ///< times from the stage's start [s]; state as in Wall
  double energy_residual = 0.0;
  std::size_t steps = 0, rejections = 0;
  std::optional<FilmUse> film;  ///< where a correlation gave the coefficient at the air's side

  [[nodiscard]] bool lumped() const { return mesh.node.empty(); }
  [[nodiscard]] double end() const { return start + path.times().back(); }
  [[nodiscard]] std::span<double const> temperature(std::span<double const> state) const {
    return state.first(cells);
  }
  /// Temperature of the reacting cells [K].
  [[nodiscard]] std::span<double const> resin_temperature(std::span<double const> state) const {
    return state.subspan(first_reacting, reacting);
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
