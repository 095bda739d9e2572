#include "cure/numerics/run_control.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <string>

#include "cure/io/case_file.hpp"
#include "cure/kinetics/batch.hpp"
#include "cure/process/predict.hpp"

namespace cure::process {
namespace {

using numerics::StopScope, numerics::Stopped;
using testing::HasSubstr;

Case load(char const* name) {
  std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  return io::load_case(models / "cases" / name, {{models}});
}

std::string refusal(Case const& c) {
  try {
    predict(c);
  } catch (InputError const& e) {
    return e.what();
  }
  return {};
}

TEST(RunLimits, RefuseWhatTakesTooMuchMemoryByLimitAndSetting) {
  for (auto const* name : {"cold_ground_winter.json", "standing_water_invert.json"}) {
    auto c = load(name);
    c.discretisation.limits.bytes = 100'000;
    auto const says = refusal(c);
    EXPECT_THAT(says, HasSubstr("numerics: 0.1"));
    EXPECT_THAT(says, HasSubstr("0.1 MB of history"));
    EXPECT_THAT(says, HasSubstr("numerics.cells"));
    EXPECT_THAT(says, HasSubstr("numerics.temperature_tolerance_K"));
    EXPECT_EQ(says.find('\n'), std::string::npos);
  }
}

TEST(RunLimits, RefuseTooManySteps) {
  auto c = load("cold_ground_winter.json");
  auto const taken = predict(c).verdict.steps;
  c.discretisation.limits.steps = taken / 2;
  EXPECT_THAT(refusal(c), HasSubstr("steps and 1000 MB of history"));
  c.discretisation.limits.steps = 2 * taken;
  EXPECT_EQ(refusal(c), "");
}

/// Half of them are below what the whole history keeps: each simulation counts anew, and so do the
/// coarser runs of the error estimate.
TEST(RunLimits, CountEachSimulationByItself) {
  auto c = load("cold_ground_winter.json");
  std::size_t bytes = 0;
  auto const p = predict(c);
  for (auto const& stage : p.history) {
    // A stage that was cut short at its release had more.
    bytes += 2 * stage.path.times().size() * (2 * stage.path.width() + 1) * sizeof(double);
  }
  c.discretisation.limits.bytes = 2 * bytes;
  for (int i = 0; i < 5; ++i) EXPECT_TRUE(predict(c, true).verdict.numerical_error.has_value());
}

/// Asked at every place of a prediction, it stops there: in the stages, in the searches of the
/// verdict, in the coarser runs of the error estimate, and nobody takes it for a failed run.
TEST(StopScope, StopsAPredictionWhereverItStands) {
  for (auto const* name : {"cold_ground_winter.json", "hot_packer_summer.json"}) {
    auto c = load(name);
    c.discretisation = discretisation(Accuracy::fine);
    std::size_t asked = 0;
    {
      StopScope const scope([&asked] { return ++asked == 0; });
      EXPECT_TRUE(predict(c, true).verdict.numerical_error.has_value());
    }
    EXPECT_GT(asked, 3U) << name;
    for (std::size_t at = 1; at <= asked; ++at) {
      std::size_t count = 0;
      StopScope const scope([&] { return ++count == at; });
      EXPECT_THROW(predict(c, true), Stopped) << name << ", question " << at << " of " << asked;
      EXPECT_EQ(count, at);
    }
  }
}

TEST(StopScope, StopsASingleTemperature) {
  auto const c = load("cold_ground_winter.json");
  StopScope const scope([] { return true; });
  auto const states = c.resin.rate.initial(0.0);
  EXPECT_THROW(kinetics::cure_isothermal(c.resin, 300.0, states, 1e6, 1e-15), Stopped);
}

TEST(StopScope, EndsWithItsScopeAndGivesWayToAnInnerOne) {
  auto const c = load("cold_ground_winter.json");
  {
    StopScope const outer([] { return true; });
    {
      StopScope const inner([] { return false; });
      EXPECT_NO_THROW(predict(c, true));
    }
    EXPECT_THROW(predict(c, true), Stopped);
  }
  EXPECT_NO_THROW(predict(c, true));
}

}  // namespace
}  // namespace cure::process
