#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

#include "cure/ensemble/service_times.hpp"
#include "cure/ensemble/simulate_many.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/json_text.hpp"

namespace cure::ensemble {
namespace {

/// The shipped job around the pipe, or the same with another section (JSON of that key).
Case section(std::string const& other = "") {
  auto const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  auto document = io::load(models / "cases" / "standing_water_invert.json");
  if (!other.empty()) document["section"] = io::parse(other, "section");
  document["accuracy"] = "quick";
  return io::parse_case(document.dump(), {{models}}, ".", "test");
}

char const* const along = R"({"kind": "along", "length_mm": 300, "columns": 20,
  "bare_pipe_mm": 50, "bare_gap_mm": {"from": 60, "to": 70},
  "open_to_soil_mm": {"from": 90, "to": 120},
  "liner_thickness_mm": {"position_mm": [150, 180, 220, 250], "value": [4, 7, 7, 4]}})";
char const* const round = R"({"kind": "around", "columns": 16,
  "liner_thickness_mm": {"clock": [4, 5, 6, 12], "value": [4, 7, 4, 4]},
  "ground_offset_K": {"clock": [3, 6, 9, 12], "value": [0, 0, 3, 0]}})";

/// Rows of a case between cold and slow, and warm and fast.
std::vector<Outcome> rows(Case const& c, process::Tolerance const& tolerance,
                          std::size_t threads = 1) {
  std::vector<double> const values{
      -3.0, -1.5, 0.0, 2.0, 5.0, 8.0,  // ground
      0.7,  1.2,  1.0, 0.9, 1.1, 1.4,  // speed of cure
      1.2,  1.1,  1.0, 0.9, 1.3, 1.0,  // thickness
  };
  Plan p;
  p.base = &c;
  p.inputs = {&find_input("ground.temperature_offset_K"), &find_input("resin.rate_factor"),
              &find_input("liner.thickness_factor")};
  p.values = values;
  p.rows = 6;
  p.threads = threads;
  p.tolerance = tolerance;
  return simulate_many(p);
}

class SectionRows : public testing::TestWithParam<char const*> {};
INSTANTIATE_TEST_SUITE_P(SectionsOfEveryKind, SectionRows, testing::Values("", along, round));

TEST_P(SectionRows, AreWhatPredictSays) {
  auto c = section(GetParam());
  auto const o = rows(c, c.discretisation.tolerance)[2];
  ASSERT_EQ(o.failure, "");
  c.stages.pop_back();
  auto const v = process::predict(c).verdict;
  EXPECT_EQ(o.working_time, v.working_time);
  EXPECT_EQ(o.gel_time_first, v.gel_time_first);
  EXPECT_EQ(o.gel_time_last, v.gel_time_last);
  EXPECT_EQ(o.release_time, v.release_time);
  EXPECT_EQ(o.held_from, v.held_from);
  EXPECT_EQ(o.release_state, v.release_state);
  EXPECT_EQ(o.peak_temperature, v.peak.temperature);
  EXPECT_EQ(o.peak_time, v.peak.time);
  EXPECT_EQ(o.steps, v.steps);
}

/// What samples leave out by their longer steps: far less than what the mesh may have moved, which
/// the answer adds to its release.
TEST_P(SectionRows, TakeStepsThatMoveTheirTimesByHalfAPerCentAtMost) {
  auto const c = section(GetParam());
  auto const exact = rows(c, {.temperature = 1e-3, .alpha = 1e-6});
  auto const normal = rows(c, row_tolerance);
  auto const searched = rows(c, sample_tolerance);
  for (std::size_t i = 0; i < exact.size(); ++i) {
    for (auto const* o : {&normal[i], &searched[i]}) {
      ASSERT_EQ(o->failure, "");
      EXPECT_LT(o->steps, exact[i].steps / 2);
      ASSERT_EQ(o->release_state, exact[i].release_state) << i;
      auto const alike = [&](double Outcome::*time) {
        if (std::isnan(exact[i].*time)) {
          EXPECT_TRUE(std::isnan(o->*time));
        } else {
          EXPECT_NEAR(o->*time, exact[i].*time, 0.005 * exact[i].*time) << i;
        }
      };
      alike(&Outcome::working_time);
      alike(&Outcome::gel_time_first);
      alike(&Outcome::gel_time_last);
      alike(&Outcome::release_time);
      EXPECT_NEAR(o->peak_temperature, exact[i].peak_temperature, 0.5);
    }
  }
}

TEST_P(SectionRows, AreTheSameToTheBitForAnyNumberOfThreads) {
  auto const c = section(GetParam());
  auto const one = rows(c, row_tolerance, 1), three = rows(c, row_tolerance, 3);
  for (std::size_t i = 0; i < one.size(); ++i) {
    EXPECT_EQ(one[i].release_time, three[i].release_time);
    EXPECT_EQ(one[i].peak_temperature, three[i].peak_temperature);
  }
}

TEST(SectionRows, ReturnToServiceIsThatOfPredict) {
  auto c = section(along);
  RowPlan p;
  p.base = &c;
  p.rows = 1;
  auto const t = service_times(p, 36000.0);
  c.discretisation.tolerance = row_tolerance;
  auto const v = process::predict(c, false, 36000.0).verdict;
  ASSERT_TRUE(v.service_time);
  EXPECT_EQ(t[0], *v.service_time);
}

}  // namespace
}  // namespace cure::ensemble
