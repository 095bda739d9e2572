// Sequences of stages as a job has them: several pots, several holds, a bladder that goes down and
// up again. No outside source has such jobs: what is held against is the same job written in other
// stages, and the packed solver against the single one.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/advise/changes.hpp"
#include "cure/decide/answer.hpp"
#include "cure/ensemble/simulate_many.hpp"
#include "cure/io/advice_file.hpp"
#include "cure/io/case_file.hpp"
#include "cure/process/predict.hpp"

namespace cure::job {
namespace {

using namespace process;

std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";

std::string const pot = R"({"kind": "mixed_mass", "duration_min": 4})";
std::string const wet = R"({"kind": "wet_out", "duration_min": 8})";
std::string const after = R"({"kind": "after_release", "duration_min": 600})";

std::string hold(double minutes, std::string const& more = "") {
  return R"({"kind": "held", "duration_min": )" + std::to_string(minutes) +
         R"(, "fill_temperature_C": 16)" + more + "}";
}
std::string down(double minutes) {
  return R"({"kind": "after_release", "duration_min": )" + std::to_string(minutes) + "}";
}

/// Invented: a clay drain on a mild day.
Case drain(std::vector<std::string> const& stages, std::string const& ground = "12") {
  std::string list;
  for (auto const& s : stages) list += (list.empty() ? "" : ", ") + s;
  return io::parse_case(R"({"format": "libcure/case/1", "resin": "epoxy-amine-fast",
    "pipe": {"inner_diameter_mm": 150, "wall_mm": 16, "material": "vitrified-clay"},
    "liner": {"thickness_mm": 4, "length_mm": 600},
    "ground": {"material": "moist-sand", "temperature_C": )" +
                            ground + R"(, "radius_m": 1.5},
    "initial_temperature_C": {"air": 14, "pipe": 12},
    "stages": [)" + list + "]}",
                        {{models}}, ".", "test");
}

ensemble::Outcome packed(Case const& c) {
  ensemble::Plan plan;
  plan.base = &c;
  plan.rows = 1;
  return ensemble::simulate_many(plan).front();
}

/// Stage i in two parts of the same kind.
Case split(Case c, std::size_t i, double share) {
  auto second = c.stages[i];
  double const whole = duration(second);
  std::visit([&](auto& s) { s.duration = share * whole; }, c.stages[i]);
  std::visit([&](auto& s) { s.duration = (1.0 - share) * whole; }, second);
  c.stages.insert(c.stages.begin() + static_cast<std::ptrdiff_t>(i) + 1, second);
  return c;
}

TEST(StageSequence, AStageInTwoIsTheSameJob) {
  auto const whole = drain({pot, wet, hold(600), after});
  auto const v = predict(whole).verdict;
  auto const rows = packed(whole);
  ASSERT_TRUE(v.release_time && v.service_time && v.gel_time_last);
  for (std::size_t i = 0; i < whole.stages.size(); ++i) {
    for (double const share : {0.07, 0.5, 0.9}) {
      SCOPED_TRACE(std::to_string(i) + " at " + std::to_string(share));
      auto const c = split(whole, i, share);
      auto const in_two = predict(c).verdict;
      // Steps start anew at a seam; so far apart are two runs at the standard tolerance.
      double const near = 3.0;
      EXPECT_NEAR(*in_two.working_time, *v.working_time, near);
      EXPECT_NEAR(*in_two.gel_time_first, *v.gel_time_first, near);
      EXPECT_NEAR(*in_two.gel_time_last, *v.gel_time_last, near);
      EXPECT_NEAR(*in_two.release_time, *v.release_time, 10.0);
      EXPECT_NEAR(*in_two.service_time, *v.service_time, 30.0);
      EXPECT_DOUBLE_EQ(*in_two.held_from, *v.held_from);
      EXPECT_NEAR(in_two.peak.temperature, v.peak.temperature, 0.02);
      EXPECT_NEAR(in_two.leftover->peak_temperature, v.leftover->peak_temperature, 0.02);
      auto const row = packed(c);
      EXPECT_NEAR(row.working_time, rows.working_time, near);
      EXPECT_NEAR(row.gel_time_last, rows.gel_time_last, near);
      EXPECT_NEAR(row.release_time, rows.release_time, 30.0);
      EXPECT_DOUBLE_EQ(row.held_from, rows.held_from);
    }
  }
}

TEST(StageSequence, AGroundThatWarmsDoesSoByTheClockOfTheJob) {
  auto const warms = R"({"time_min": [0, 120, 240], "value": [4, 18, 12]})";
  auto const whole = drain({pot, wet, hold(600)}, warms);
  auto const in_two = drain({pot, wet, hold(90), hold(510)}, warms);
  EXPECT_NEAR(*predict(in_two).verdict.release_time, *predict(whole).verdict.release_time, 10.0);
  EXPECT_NEAR(packed(in_two).release_time, packed(whole).release_time, 30.0);
}

TEST(StageSequence, WhatIsMetWhileTheBladderIsDownCountsFromWhenItIsUp) {
  auto const plain = predict(drain({pot, wet, hold(900)})).verdict;
  double const early = *plain.release_time / 60.0 - 12.0 - 20.0;
  auto const c = drain({pot, wet, hold(early), down(120), hold(600)});
  auto const p = predict(c);
  ASSERT_TRUE(p.verdict.release_time);
  double const up = (12.0 + early + 120.0) * 60.0;
  EXPECT_NEAR(*p.verdict.release_time, up, 1e-3);
  EXPECT_NEAR(packed(c).release_time, up, 1e-3);
  EXPECT_EQ(packed(c).release_state, ReleaseState::reached);
  EXPECT_DOUBLE_EQ(*p.verdict.held_from, 12.0 * 60.0);
  // The bladder that comes back has the warmth of the bore, not that of its start.
  EXPECT_NEAR(p.history[4].path.state(0)[0], 273.15 + 12.0, 0.01);
}

TEST(StageSequence, ABladderDownBeforeTheReleaseStopsTheJob) {
  auto const has = [](decide::Answer const& a) {
    for (auto const& r : a.decision.reasons) {
      if (r.code == "let_down_too_soon") return true;
    }
    return false;
  };
  auto const soon = decide::answer(drain({pot, wet, hold(60), down(10), hold(900)}));
  EXPECT_TRUE(has(soon));
  EXPECT_EQ(soon.decision.status, decide::Status::stop);
  EXPECT_FALSE(soon.decision.release_time);
  auto const later = decide::answer(drain({pot, wet, hold(1400), down(10), hold(60)}));
  EXPECT_FALSE(has(later));
  EXPECT_TRUE(later.decision.release_time);
}

TEST(StageSequence, AHoldThatEndsAtTheReleaseLeavesOutTheRestOfIt) {
  auto const at_release = R"(, "ends": "at_release")";
  auto const warm = R"({"kind": "after_release", "duration_min": 900, "bore_temperature_C": 35})";
  auto const c = drain({pot, wet, hold(900, at_release), hold(60, at_release), warm});
  auto const one = drain({pot, wet, hold(960, at_release), warm});
  auto const p = predict(c, true), q = predict(one, true);
  ASSERT_EQ(p.history.size(), 4U);
  ASSERT_TRUE(p.verdict.service_time && q.verdict.service_time);
  EXPECT_NEAR(p.history[2].end(), q.history[2].end(), 1e-6);
  EXPECT_NEAR(*p.verdict.service_time, *q.verdict.service_time, 1.0);
  ASSERT_TRUE(p.verdict.numerical_error && q.verdict.numerical_error);
  ASSERT_TRUE(p.verdict.numerical_error->time.at("service").error &&
              q.verdict.numerical_error->time.at("service").error);
  EXPECT_NEAR(*p.verdict.numerical_error->time.at("service").error,
              *q.verdict.numerical_error->time.at("service").error, 1.0);
  // It falls due between the two: the second never starts.
  double const due = p.history[2].end() / 60.0 - 12.0;
  auto const first = predict(drain({pot, wet, hold(due), hold(60, at_release), warm}), true);
  EXPECT_TRUE(first.verdict.numerical_error);
  ASSERT_EQ(first.history.size(), 4U);
  EXPECT_EQ(first.history[3].kind, StageKind::after_release);
}

TEST(StageSequence, ResinPouredFromABucketIntoATrayCoolsThere) {
  std::string const bucket =
      R"({"kind": "mixed_mass", "duration_min": 6, "mass_kg": 4, "surface_area_m2": 0.12})";
  std::string const tray =
      R"({"kind": "mixed_mass", "duration_min": 6, "mass_kg": 4, "surface_area_m2": 0.7})";
  auto const poured = predict(drain({bucket, tray, wet, hold(600)})).verdict;
  auto const left = predict(drain({bucket, bucket, wet, hold(600)})).verdict;
  EXPECT_GT(*poured.working_time, *left.working_time);
  // What stays behind in the first of them is as it would have been alone.
  EXPECT_NEAR(poured.leftover->peak_temperature, left.leftover->peak_temperature, 0.05);
  EXPECT_NEAR(*poured.leftover->gel_time, *left.leftover->gel_time, 1.0);
}

TEST(StageSequence, KeepsTheOrderOfWorkAndEndsSomewhere) {
  auto const refused = [](std::vector<std::string> const& stages) {
    try {
      drain(stages);
    } catch (InputError const& e) {
      return std::string(e.what());
    }
    return std::string();
  };
  EXPECT_THAT(refused({wet, pot, hold(60)}), testing::HasSubstr("stages[1]"));
  EXPECT_THAT(refused({pot, hold(60), wet}), testing::HasSubstr(stage_order));
  EXPECT_THAT(refused(std::vector<std::string>(40, hold(1))), testing::HasSubstr("32"));
  EXPECT_EQ(refused({pot, pot, wet, wet, hold(60), down(5), hold(60), down(5)}), "");
  Case c = drain({pot, wet, hold(60)});
  std::swap(c.stages[0], c.stages[1]);
  EXPECT_THROW(validate(c), InputError);
}

TEST(StageSequence, AdviceOnAJobOfTwoHoldsNamesTheStageItMeans) {
  auto const c = drain({pot, wet, hold(60), hold(300, R"(, "h_W_m2K": 20)")});
  advise::Job const job{c, "epoxy-amine-fast", {}};
  advise::Changes x;
  x.fill = 273.15 + 30.0;
  x.hold = 8.0 * 3600.0;
  x.in_place = 600.0;
  auto const changed = advise::changed(job, x);
  EXPECT_NEAR(planned_hold(changed)->first, 600.0, 1e-9);
  EXPECT_NEAR(planned_hold(changed)->second - planned_hold(changed)->first, 8.0 * 3600.0, 1e-9);
  auto const document = io::Json::parse(
      R"({"stages": [{}, {}, {"fill_temperature_C": 16}, {"fill_temperature_C": 16}]})");
  auto const changes = io::changes_json(document, job, x);
  EXPECT_EQ(changes["stages[2].fill_temperature_C"], 30.0);
  EXPECT_EQ(changes["stages[3].fill_temperature_C"], 30.0);
  EXPECT_NEAR(changes["stages[3].duration_min"].get<double>(), 420.0, 1e-9);
  EXPECT_FALSE(changes.contains("stages[2].duration_min"));
}

}  // namespace
}  // namespace cure::job
