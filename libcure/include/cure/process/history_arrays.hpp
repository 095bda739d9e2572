#pragma once
/// A stage's solution as Eigen's arrays. Apart from history.hpp, since Eigen is half of what a
/// program that only wants the times would compile.

#include <Eigen/Core>
#include <algorithm>
#include <cstddef>
#include <vector>

#include "cure/numerics/maps.hpp"
#include "cure/process/history.hpp"

namespace cure::process {

/// Of the solver's steps, from the stage's start [s], where they stand.
inline numerics::VectorMap times(StageHistory const& stage) {
  return numerics::vector_map(stage.path.times());
}
/// At the solver's steps (times x cells) [K], where they stand.
inline numerics::RowMap temperatures(StageHistory const& stage) {
  return numerics::row_map(stage.path.states(), stage.path.width(), 0, stage.cells);
}
/// Degree of cure at the solver's steps (times x reacting cells) [-], where it stands.
inline numerics::RowMap alphas(StageHistory const& stage) {
  return numerics::row_map(stage.path.states(), stage.path.width(), stage.cells, stage.reacting);
}

/// A stage at chosen times.
struct StageSamples {
  numerics::RowMatrix temperature;  ///< (times x cells) [K]
  numerics::RowMatrix alpha;        ///< (times x reacting cells) [-]
};

/// Between the steps, at times from the stage's start [s]. @throws numerics::Stopped
inline StageSamples sample(StageHistory const& stage, Eigen::Ref<Eigen::VectorXd const> const& at) {
  auto const cells = stage.cells, reacting = stage.reacting;
  StageSamples s{numerics::RowMatrix(at.size(), numerics::index(cells)),
                 numerics::RowMatrix(at.size(), numerics::index(reacting))};
  std::vector<double> state(stage.path.width());
  auto* T = s.temperature.data();
  auto* alpha = s.alpha.data();
  for (Eigen::Index i = 0; i < at.size(); ++i) {
    stage.path.state_at(at(i), state);
    T = std::copy_n(state.begin(), cells, T);
    alpha = std::copy_n(state.begin() + static_cast<std::ptrdiff_t>(cells), reacting, alpha);
  }
  return s;
}

// They look at the stage for as long as they are used.
numerics::VectorMap times(StageHistory const&&) = delete;
numerics::RowMap temperatures(StageHistory const&&) = delete;
numerics::RowMap alphas(StageHistory const&&) = delete;

}  // namespace cure::process
