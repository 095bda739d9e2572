#pragma once
/// What a simulation leaves: for each stage the mesh it ran on and its dense solution. What is at a
/// place that has a name: place.hpp; all of it as Eigen's arrays: history_arrays.hpp.

#include <algorithm>
#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cure/heat/section_mesh.hpp"
#include "cure/numerics/trajectory.hpp"
#include "cure/process/conditions.hpp"
#include "cure/process/faces.hpp"

namespace cure::process {

/// What a criterion looks at in a resin point.
struct PointValues {
  double T, alpha;  ///< [K], [-]
};

struct StageHistory {
  StageKind kind = StageKind::mixed_mass;
  double start = 0.0;  ///< on the job's clock, which starts at mixing [s]
  heat::Mesh mesh;     ///< empty for the mixed mass; of the first column in two dimensions
  std::shared_ptr<heat::SectionMesh const> section;  ///< null in one dimension
  std::size_t cells = 1;
  std::size_t first_reacting = 0;
  std::size_t reacting = 1;
  std::size_t rows = 1;            ///< of reacting cells across the liner; they stand row by row
  std::vector<std::size_t> resin;  ///< the reacting cells; empty: the consecutive ones
  std::size_t states = 1;          ///< cure states of each reacting cell, alpha first
  numerics::Trajectory path;       ///< times from the stage's start [s]; state as in Wall
  double energy_residual = 0.0;
  std::size_t steps = 0, rejections = 0;
  std::optional<FilmUse> film;  ///< where a correlation gave the coefficient at the air's side

  [[nodiscard]] bool lumped() const { return mesh.node.empty(); }
  [[nodiscard]] double end() const { return start + path.times().back(); }
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
  /// Radius of a cell's inner or outer face [m].
  [[nodiscard]] double face_radius(std::size_t cell, bool inner) const {
    auto const m = columns();
    return (section ? section->column[cell % m] : mesh).face[cell / m + (inner ? 0 : 1)];
  }
  /// Index of a cell's layer, and the layer as it is in that column.
  [[nodiscard]] std::size_t layer_index(std::size_t cell) const {
    return mesh.layer[cell / columns()];
  }
  [[nodiscard]] heat::Layer const& layer(std::size_t cell) const {
    auto const m = columns();
    return (section ? section->column[cell % m] : mesh).layers[layer_index(cell)];
  }
  /// The resin's points, row by row from the inner face to the outer one (see faces.hpp).
  [[nodiscard]] std::size_t points() const { return point_count(rows) * (reacting / rows); }
  /// Reacting cells of a point.
  [[nodiscard]] PointCells cells_of(std::size_t point) const {
    auto const m = reacting / rows;
    auto const row = point_cells(point / m, rows);
    return {row.at * m + point % m, row.behind * m + point % m};
  }
  /// The cells of every point, in order. @param take a function of PointCells
  template <class Take>
  void each_point(Take const& take) const {
    auto const m = reacting / rows;
    for (std::size_t i = 0, n = point_count(rows); i < n; ++i) {
      auto const row = point_cells(i, rows);
      for (std::size_t k = 0; k < m; ++k) take(PointCells{row.at * m + k, row.behind * m + k});
    }
  }
  [[nodiscard]] double temperature_of(std::span<double const> state, PointCells j) const {
    return carried_on(state[resin_cell(j.at)], state[resin_cell(j.behind)]);
  }
  [[nodiscard]] double alpha_of(std::span<double const> state, PointCells j) const {
    return cure_carried_on(state[cells + j.at], state[cells + j.behind]);
  }
  [[nodiscard]] PointValues values_of(std::span<double const> state, PointCells j) const {
    return {temperature_of(state, j), alpha_of(state, j)};
  }
  [[nodiscard]] double point_temperature(std::span<double const> state, std::size_t point) const {
    return temperature_of(state, cells_of(point));
  }
  [[nodiscard]] double point_alpha(std::span<double const> state, std::size_t point) const {
    return alpha_of(state, cells_of(point));
  }
  /// Of the state at a time from the stage's start [s] the numbers that a resin point has: all its
  /// criteria look at. The others are left as they are.
  void resin_at(double t, std::span<double> state) const {
    resin_temperatures_at(t, state);
    path.state_at(t, state, cells, reacting);
  }
  /// The same of its temperatures alone.
  void resin_temperatures_at(double t, std::span<double> state) const {
    auto const m = columns();
    auto const first = resin_cell(0) / m * m;
    path.state_at(t, state, first, (resin_cell(reacting - 1) / m + 1) * m - first);
  }
  /// All cure states of a point.
  [[nodiscard]] std::vector<double> cure_states(std::span<double const> state,
                                                std::size_t point) const {
    auto const j = cells_of(point);
    std::vector<double> x;
    for (std::size_t k = 0; k < states; ++k) {
      auto const all = state.subspan(cells + k * reacting, reacting);
      x.push_back(cure_carried_on(all[j.at], all[j.behind]));
    }
    return x;
  }
};

using History = std::vector<StageHistory>;

}  // namespace cure::process
