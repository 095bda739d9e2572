#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <memory>
#include <string>

#include "cure/decide/ranges.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/json_text.hpp"
#include "cure/process/before_hold.hpp"
#include "cure/uncertain/samples.hpp"

namespace cure::decide {
namespace {

std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";

struct Job {
  char const* name;
  char const* file;
  char const* section;  ///< JSON of that key; empty: as the file has it
  std::size_t samples;
  double less;  ///< share of the samples that is simulated at most
};
std::ostream& operator<<(std::ostream& out, Job const& job) { return out << job.name; }

Case read(Job const& job) {
  auto document = io::load(models / "cases" / job.file);
  if (*job.section != '\0') document["section"] = io::parse(job.section, "section");
  if (document.contains("section")) document["accuracy"] = "quick";
  return io::parse_case(document.dump(), {{models}}, ".", "test");
}

class MoreSamples : public testing::TestWithParam<Job> {};
INSTANTIATE_TEST_SUITE_P(
    Jobs, MoreSamples,
    testing::Values(Job{"winter", "cold_ground_winter.json", "", 2048, 0.7},
                    Job{"water", "standing_water_invert.json", "", 64, 0.7},
                    Job{"thick", "standing_water_invert.json", R"({"kind": "around", "columns": 16,
                        "liner_thickness_mm": {"clock": [4, 5, 6, 12], "value": [4, 7, 4, 4]},
                        "ground_offset_K": {"clock": [3, 6, 9, 12], "value": [0, 0, 3, 0]}})",
                        64, 0.8},
                    Job{"along", "standing_water_invert.json",
                        R"({"kind": "along", "length_mm": 300, "columns": 20, "bare_pipe_mm": 50,
                        "liner_thickness_mm": {"position_mm": [150, 180, 220, 250], "value": [4, 7, 7, 4]}})",
                        64, 0.8}));

/// Held against all of them simulated.
TEST_P(MoreSamples, ThatAreForetoldMoveNothing) {
  auto const c = read(GetParam());
  auto const n = GetParam().samples;
  auto const stated = uncertain::usual();
  double const held_from = process::planned_hold(c)->first;
  auto const some = ranges(c, stated, held_from, {std::min<std::size_t>(n, 256), n});

  auto const job = detail::looked_at(c);
  auto const draws = std::make_shared<uncertain::Draws const>(c, stated, n);
  auto const every = ranges_of(c, uncertain::Samples(job, draws).outcomes(), held_from);
  ASSERT_EQ(some.samples, n);
  EXPECT_LT(static_cast<double>(some.simulated), GetParam().less * static_cast<double>(n));

  auto const near = [](double one, double other, double share) {
    EXPECT_NEAR(one, other, share * other);
  };
  near(some.release_side.bound, every.release_side.bound, 0.006);
  near(some.release_side.estimate, every.release_side.estimate, 0.006);
  near(some.working_side.bound, every.working_side.bound, 0.002);
  EXPECT_EQ(some.too_late_share, every.too_late_share);
  EXPECT_EQ(some.too_hot_share, every.too_hot_share);
  EXPECT_EQ(some.state_share, every.state_share);
  for (auto band : {&Ranges::working, &Ranges::gel_first, &Ranges::gel_last, &Ranges::release}) {
    near((some.*band).p5, (every.*band).p5, 0.015);
    near((some.*band).p50, (every.*band).p50, 0.015);
    near((some.*band).p95, (every.*band).p95, 0.015);
  }
  EXPECT_NEAR(some.peak_temperature.p95, every.peak_temperature.p95, 0.3);

  auto const waiting = process::before_hold(c, process::longest_wet_out);
  auto const first =
      std::make_shared<uncertain::Draws const>(c, stated, std::min<std::size_t>(n, 256));
  std::vector<double> latest;
  for (auto const& o : uncertain::Samples(waiting, first).outcomes()) {
    latest.push_back(ensemble::conservative(o).working_time);
  }
  auto const side = uncertain::lower_side(latest, uncertain::side_share);
  near(some.latest_in_place_side.bound, side.bound, 0.002);
}

}  // namespace
}  // namespace cure::decide
