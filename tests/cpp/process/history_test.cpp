#include "cure/process/history_arrays.hpp"
#include "cure/process/simulate.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>

#include "cure/io/case_file.hpp"
#include "cure/io/model_files.hpp"
#include "cure/process/predict.hpp"

namespace cure::process {
namespace {

History solved(char const* name) {
  auto const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  auto c = io::load_case(models / "cases" / name, {{models}});
  c.discretisation = discretisation(Accuracy::quick);
  return Simulation(c).run([](auto const&) { return std::optional<double>(); });
}

TEST(StageHistory, ShowsItsStatesWhereTheyStand) {
  for (char const* name : {"cold_ground_winter.json", "standing_water_invert.json"}) {
    for (auto const& stage : solved(name)) {
      auto const T = temperatures(stage), alpha = alphas(stage);
      auto const n = stage.path.times().size();
      ASSERT_EQ(T.rows(), numerics::index(n));
      ASSERT_EQ(T.cols(), numerics::index(stage.cells));
      ASSERT_EQ(alpha.cols(), numerics::index(stage.reacting));
      EXPECT_EQ(T.data(), stage.path.state(0).data());
      EXPECT_EQ(times(stage).data(), stage.path.times().data());
      for (std::size_t i = 0; i < n; i += 7) {
        auto const state = stage.path.state(i);
        auto const row = numerics::index(i);
        EXPECT_EQ(T(row, T.cols() - 1), state[stage.cells - 1]);
        EXPECT_EQ(alpha(row, 0), state[stage.cells]);
        EXPECT_EQ(alpha(row, alpha.cols() - 1), state[stage.cells + stage.reacting - 1]);
      }
    }
  }
}

TEST(StageHistory, SampledAtItsStepsIsItsStates) {
  for (auto const& stage : solved("hot_packer_summer.json")) {
    auto const there = sample(stage, times(stage));
    EXPECT_EQ(there.temperature, numerics::RowMatrix(temperatures(stage)));
    EXPECT_EQ(there.alpha, numerics::RowMatrix(alphas(stage)));
    // Between two steps: the solution's own cubic.
    Eigen::VectorXd const between = Eigen::VectorXd::Constant(1, 0.3 * times(stage)(1));
    std::vector<double> state(stage.path.width());
    stage.path.state_at(between(0), state);
    auto const here = sample(stage, between);
    EXPECT_EQ(here.temperature(0, 0), state[0]);
    EXPECT_EQ(here.alpha(0, 0), state[stage.cells]);
  }
}

TEST(StageHistory, HandsOnEveryStateOfTheCure) {
  auto const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  auto c = io::load_case(models / "cases/cold_ground_winter.json", {{models}});
  c.resin = io::load_resin(models / "resins/epoxy-amine-mechanistic.json", {{models}});
  c.discretisation = discretisation(Accuracy::quick);
  auto const h = Simulation(c).run([](auto const&) { return std::optional<double>(); });
  ASSERT_GT(h.size(), 2u);
  ASSERT_GT(h[0].states, 1u);
  for (std::size_t i = 1; i < h.size(); ++i) {
    auto const last = h[i - 1].path.state(h[i - 1].path.times().size() - 1);
    auto const first = h[i].path.state(0);
    auto const before = h[i - 1].cure_states(last, 0), after = h[i].cure_states(first, 0);
    ASSERT_EQ(before.size(), h[0].states);
    for (std::size_t k = 0; k < before.size(); ++k) {
      EXPECT_NEAR(after[k], before[k], 1e-9) << "state " << k << " of stage " << i;
      EXPECT_LE(std::abs(before[k]), 1.5);
    }
  }
}

TEST(StageHistory, WithoutStepsShowsNone) {
  StageHistory const stage;
  EXPECT_EQ(temperatures(stage).rows(), 0);
  EXPECT_EQ(times(stage).size(), 0);
}

}  // namespace
}  // namespace cure::process
