#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>

#include "cure/io/case_file.hpp"
#include "cure/process/refine.hpp"

namespace {

using cure::process::Case;

std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";

Case shipped_case(std::string const& name) {
  return cure::io::load_case(models / "cases" / (name + ".json"), {{models}});
}

double release_of(Case const& c) { return *cure::process::predict(c).verdict.release_time; }

// Against the same solver on a mesh of 640 cells: that mesh is not what is tested here, but whether
// the goal is met.
TEST(Refined, MeetsItsGoalAgainstAMuchFinerMesh) {
  for (char const* name : {"cold_ground_winter", "groundwater_hot_water_fill"}) {
    auto c = shipped_case(name);
    auto finest = c;
    finest.discretisation = c.discretisation.coarser(0.125);
    finest.discretisation.tolerance = {1e-5, 1e-8};
    double const exact = release_of(finest);
    for (double const goal : {20.0, 5.0, 2.0}) {
      c.discretisation = cure::process::discretisation(cure::process::Accuracy::standard);
      c.discretisation.release_within = goal;
      auto const fine = cure::process::refined(c);
      auto const v = cure::process::predict(fine, true).verdict;
      EXPECT_LE(*v.numerical_error->time.at("release").error, goal) << name;
      EXPECT_LE(std::abs(*v.release_time - exact), goal) << name;
    }
  }
}

TEST(Refined, IsTheSameWithoutAGoalAndSaysWhenItIsNotMet) {
  auto c = shipped_case("cold_ground_winter");
  EXPECT_EQ(cure::process::refined(c).discretisation.liner, c.discretisation.liner);
  c.discretisation.release_within = 0.6;
  auto const v = cure::process::predict(cure::process::refined(c), true).verdict;
  bool const told = std::any_of(v.cautions.begin(), v.cautions.end(),
                                [](auto const& x) { return x.code == "accuracy_not_met"; });
  EXPECT_EQ(told, *v.numerical_error->time.at("release").error > 0.6);
}

}  // namespace
