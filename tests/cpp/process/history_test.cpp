#include "cure/process/history_arrays.hpp"
#include "cure/process/simulate.hpp"

#include <gtest/gtest.h>

#include <filesystem>

#include "cure/io/case_file.hpp"
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

TEST(StageHistory, WithoutStepsShowsNone) {
  StageHistory const stage;
  EXPECT_EQ(temperatures(stage).rows(), 0);
  EXPECT_EQ(times(stage).size(), 0);
}

}  // namespace
}  // namespace cure::process
