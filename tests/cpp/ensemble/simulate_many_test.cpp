#include "cure/ensemble/simulate_many.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <cmath>
#include <filesystem>
#include <string>
#include <thread>
#include <vector>

#include "cure/ensemble/service_times.hpp"
#include "cure/ensemble/traces.hpp"
#include "cure/io/case_file.hpp"
#include "cure/process/before_hold.hpp"

namespace cure::ensemble {
namespace {

using process::ReleaseState;
using testing::HasSubstr;

std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";

Case load(char const* name) { return io::load_case(models / "cases" / name, {{models}}); }

/// Rows by input, as a plan looks at them.
struct Rows {
  std::vector<Input const*> inputs;
  std::vector<double> values;
  std::size_t count;
};

Rows offsets() {
  return {
      {&find_input("ground.temperature_offset_K"), &find_input("initial_temperature.pipe_offset_K"),
       &find_input("initial_temperature.resin_offset_K"), &find_input("liner.thickness_factor")},
      {-2.0, 0.0, 3.0, 8.0, -30.0, 0.0,     //
       -2.0, 0.0, 3.0, 8.0, -30.0, 0.0,     //
       -3.0, 0.0, 0.0, 5.0, 0.0,   0.0,     //
       1.1,  1.0, 0.9, 1.0, 1.0,   100.0},  // the last liner does not fit
      6};
}

Plan plan(Case const& c, Rows const& rows, std::size_t threads = 1) {
  Plan p;
  p.base = &c;
  p.inputs = rows.inputs;
  p.values = rows.values;
  p.rows = rows.count;
  p.threads = threads;
  p.tolerance.temperature = 5e-3;
  p.tolerance.alpha = 1e-5;
  return p;
}

/// Times that may be missing (NaN) are alike when both are, or within a share of each other.
void expect_alike(double one, std::optional<double> other, double share, std::string const& what) {
  EXPECT_EQ(std::isnan(one), !other.has_value()) << what;
  if (!other || std::isnan(one)) return;
  EXPECT_NEAR(one, *other, share * *other + 1.0) << what;
}

TEST(SimulateMany, GivesEachRowWhatPredictGivesIt) {
  auto const c = load("cold_ground_winter.json");
  auto const rows = offsets();
  auto const p = plan(c, rows);
  auto const outcomes = simulate_many(p);
  ASSERT_EQ(outcomes.size(), rows.count);
  for (std::size_t i = 0; i + 1 < rows.count; ++i) {
    Case alone;
    detail::make_row(p, i, alone);
    auto const v = process::predict(alone).verdict;
    auto const& o = outcomes[i];
    auto const row = "row " + std::to_string(i);
    EXPECT_EQ(o.failure, "") << row;
    EXPECT_EQ(o.release_state, v.release_state) << row;
    expect_alike(o.working_time, v.working_time, 5e-3, row + ", working time");
    expect_alike(o.gel_time_first, v.gel_time_first, 5e-3, row + ", first gel");
    expect_alike(o.gel_time_last, v.gel_time_last, 5e-3, row + ", last gel");
    expect_alike(o.release_time, v.release_time, 1e-2, row + ", release");
    EXPECT_NEAR(o.peak_temperature, v.peak.temperature, 0.3) << row;
  }
}

/// Frozen ground stops the cure short: whoever trusts this state lets nobody take the bladder out.
TEST(Column, IsOneNumberOfEveryOutcome) {
  std::vector<Outcome> outcomes(5);
  for (std::size_t i = 0; i < outcomes.size(); ++i) {
    outcomes[i].release_time = 100.0 * static_cast<double>(i);
    outcomes[i].release_point = static_cast<std::int32_t>(i) - 1;
    outcomes[i].steps = i;
  }
  auto const release = column(outcomes, &Outcome::release_time);
  ASSERT_EQ(release.size(), 5);
  EXPECT_EQ(release.data(), &outcomes[0].release_time);
  EXPECT_EQ(release(4), 400.0);
  EXPECT_EQ((release > 150.0).count(), 3);
  EXPECT_EQ(column(outcomes, &Outcome::release_point)(0), -1);
  EXPECT_EQ(column(outcomes, &Outcome::steps).sum(), 10U);
  std::vector<Outcome> const none;
  EXPECT_EQ(column(none, &Outcome::peak_time).size(), 0);
}

TEST(SimulateMany, NeverReportsAReleaseThatDoesNotCome) {
  auto const c = load("cold_ground_winter.json");
  auto const rows = offsets();
  auto const outcomes = simulate_many(plan(c, rows));
  EXPECT_EQ(outcomes[1].release_state, ReleaseState::reached);
  EXPECT_NE(outcomes[4].release_state, ReleaseState::reached);
  EXPECT_TRUE(std::isnan(outcomes[4].release_time));
}

TEST(SimulateMany, SaysWhyARowFailedAndGoesOn) {
  auto const c = load("cold_ground_winter.json");
  auto const outcomes = simulate_many(plan(c, offsets()));
  EXPECT_THAT(outcomes[5].failure, HasSubstr("liner.thickness: 0.3 m; allowed: 0.0003 to 0.06 m"));
  for (std::size_t i = 0; i < 5; ++i) EXPECT_EQ(outcomes[i].failure, "") << i;
}

TEST(SimulateMany, ChecksEachChangedRow) {
  auto const c = load("cold_ground_winter.json");
  Rows const rows{{&find_input("ground.temperature_offset_K"), &find_input("resin.rate_factor")},
                  {-100.0, 0.0, 1.0, std::nan("")},
                  2};
  auto const outcomes = simulate_many(plan(c, rows));
  EXPECT_THAT(outcomes[0].failure, HasSubstr("ground.temperature: 177.15 K; allowed: 213.15"));
  EXPECT_THAT(outcomes[1].failure, HasSubstr("resin.rate_factor: nan"));
}

/// More rows than one thread takes at a time, each with numbers of its own.
TEST(SimulateMany, GivesTheSameToTheBitForAnyNumberOfThreads) {
  auto const c = load("hot_packer_summer.json");
  Rows rows{{&find_input("resin.rate_factor")}, {}, 2 * chunk_rows + 40};
  for (std::size_t i = 0; i < rows.count; ++i) {
    rows.values.push_back(0.8 + 0.4 * static_cast<double>(i) / static_cast<double>(rows.count));
  }
  auto p = plan(c, rows);
  p.tolerance.temperature = 0.05;
  p.tolerance.alpha = 2e-4;
  auto const one = simulate_many(p);
  p.threads = 3;
  auto const three = simulate_many(p);
  ASSERT_EQ(three.size(), one.size());
  for (std::size_t i = 0; i < one.size(); ++i) {
    EXPECT_EQ(one[i].failure, "");
    EXPECT_EQ(one[i].working_time, three[i].working_time);
    EXPECT_EQ(one[i].peak_temperature, three[i].peak_temperature);
  }
  EXPECT_LT(one.back().working_time, one.front().working_time);
}

/// Every number to the bit; what never happens is NaN in both.
void expect_same(Outcome const& one, Outcome const& other, std::string const& what) {
  auto const same = [&](auto Outcome::*number) {
    auto const a = one.*number, b = other.*number;
    EXPECT_TRUE(a == b || (a != a && b != b)) << what << ": " << a << ", " << b;
  };
  for (auto const time : {&Outcome::working_time, &Outcome::gel_time_first, &Outcome::gel_time_last,
                          &Outcome::held_from, &Outcome::release_time, &Outcome::peak_temperature,
                          &Outcome::peak_time}) {
    same(time);
  }
  same(&Outcome::working_point);
  same(&Outcome::release_point);
  same(&Outcome::steps);
  same(&Outcome::rejections);
  EXPECT_EQ(one.release_state, other.release_state) << what;
  EXPECT_EQ(one.failure, other.failure) << what;
}

/// Each row with no other beside it goes all the way by itself.
void expect_as_alone(Plan const& p, std::vector<Outcome> const& outcomes) {
  std::vector<Case const*> cases{p.base};
  cases.insert(cases.end(), p.others.begin(), p.others.end());
  ASSERT_EQ(outcomes.size(), cases.size() * p.rows);
  for (std::size_t k = 0; k < cases.size(); ++k) {
    for (std::size_t i = 0; i < p.rows; ++i) {
      auto alone = p;
      alone.base = cases[k];
      alone.others.clear();
      alone.rows = 1;
      std::vector<double> values;
      for (std::size_t j = 0; j < p.inputs.size(); ++j) values.push_back(p.values[j * p.rows + i]);
      alone.values = values;
      expect_same(outcomes[k * p.rows + i], simulate_many(alone).front(),
                  "case " + std::to_string(k) + ", row " + std::to_string(i));
    }
  }
}

/// Walls and fills that differ between rows of one resin, and rows that share nothing; one in which
/// the resin has set before it is held, and one that is refused.
TEST(SimulateMany, GivesRowsThatComeToTheirHoldTogetherTheSameToTheBit) {
  auto const c = load("hot_packer_summer.json");
  Rows const rows{
      {&find_input("ground.temperature_offset_K"), &find_input("initial_temperature.pipe_offset_K"),
       &find_input("fill_temperature_offset_K"), &find_input("pipe.wall_factor"),
       &find_input("contact_factor"), &find_input("initial_temperature.resin_offset_K"),
       &find_input("wet_out.duration_factor")},
      {-2.0, 0.0, 3.0,  0.0, -2.0, 1.0, 0.0, 0.0,  //
       0.0,  2.0, 0.0,  0.0, 0.0,  0.0, 0.0, 0.0,  //
       0.0,  0.0, -4.0, 0.0, 0.0,  2.0, 0.0, 0.0,  //
       1.0,  1.0, 1.2,  0.9, 1.0,  1.0, 1.0, 900,  //
       1.0,  1.0, 1.0,  1.0, 2.0,  1.0, 1.0, 1.0,  //
       0.0,  0.0, 0.0,  0.0, -3.0, 0.0, 0.0, 0.0,  //
       1.0,  1.0, 1.0,  1.0, 1.0,  9.0, 9.0, 1.0},
      8};
  auto p = plan(c, rows);
  p.tolerance = sample_tolerance;
  auto const outcomes = simulate_many(p);
  EXPECT_EQ(outcomes[6].release_state, ReleaseState::gelled_before_held);
  EXPECT_NE(outcomes[7].failure, "");
  EXPECT_NE(outcomes[0].release_time, outcomes[1].release_time);
  expect_as_alone(p, outcomes);
}

TEST(SimulateMany, GivesSeveralCasesWhatEachGivesByItselfToTheBit) {
  auto const c = load("cold_ground_winter.json");
  auto warmer = c, thicker = c, shorter = c, without = c;
  warmer.ground.temperature = warmer.ground.temperature.scaled(1.0, 6.0);
  warmer.pipe.material.conductivity *= 1.5;
  thicker.liner.thickness *= 1.2;
  process::each<process::WetOut>(shorter, [](auto& stage) { stage.duration *= 0.5; });
  without.stages.erase(without.stages.begin());
  Rows rows{{&find_input("resin.rate_factor"), &find_input("ground.temperature_offset_K")}, {}, 70};
  for (std::size_t i = 0; i < 2 * rows.count; ++i) {
    rows.values.push_back(i < rows.count ? 0.9 + 0.003 * static_cast<double>(i / 2)
                                         : 0.1 * static_cast<double>(i % 7));
  }
  auto p = plan(c, rows, 2);
  p.tolerance = sample_tolerance;
  p.others = {&warmer, &thicker, &shorter, &without};
  auto const outcomes = simulate_many(p);
  EXPECT_LT(outcomes[rows.count].release_time, outcomes[0].release_time);
  expect_as_alone(p, outcomes);
  Case const empty;
  p.others = {&empty};
  EXPECT_THROW(simulate_many(p), InputError);
}

/// What counts as felt before the hold only: a run that never comes to the hold is the same to the
/// bit whatever moves the rest. And of each input it is known whether it does.
TEST(SameBeforeHold, IsWhereNothingMovesThatIsFeltThere) {
  for (auto const* name : {"cold_ground_winter.json", "hot_packer_summer.json"}) {
    auto const c = load(name);
    auto const open = [](Case const& of) {
      auto const left = process::before_hold(of, 86400.0);
      Plan p;
      p.base = &left;
      p.rows = 1;
      return simulate_many(p).front();
    };
    auto const usual = open(c);
    for (auto const& input : inputs()) {
      auto moved = c;
      apply(input, input.is_factor() ? 1.1 : 1.0, moved);
      bool const later = input.name.starts_with("ground.") || input.name.starts_with("pipe.") ||
                         input.name.starts_with("fill_") ||
                         input.name == "initial_temperature.pipe_offset_K" ||
                         (input.name == "contact_factor" && c.contact.bladder_liner == 0.0);
      EXPECT_EQ(process::same_before_hold(c, moved), later) << input.name;
      if (later) expect_same(open(moved), usual, std::string(input.name));
    }
    auto moved = c;
    moved.release.bears.water_head += 1.0;
    EXPECT_FALSE(process::same_before_hold(c, moved));
    moved = c;
    moved.bladder.material.density *= 1.1;
    EXPECT_FALSE(process::same_before_hold(c, moved));
    moved = c;
    moved.pipe.inner_diameter *= 1.01;
    EXPECT_FALSE(process::same_before_hold(c, moved));
    moved = c;
    moved.resin.viscosity.reset();
    EXPECT_FALSE(process::same_before_hold(c, moved));
    moved.resin = c.resin;
    moved.discretisation.liner += 1;
    EXPECT_FALSE(process::same_before_hold(c, moved));
  }
}

/// Cases that the packed solver does not take: the section of a pipe with water in it.
TEST(SimulateMany, PredictsWhatIsNotPacked) {
  auto c = load("standing_water_invert.json");
  c.discretisation = process::discretisation(process::Accuracy::quick);
  c.section->columns = 8;
  ASSERT_FALSE(packable(c));
  Rows const rows{{&find_input("resin.rate_factor")}, {1.0, 1.2}, 2};
  auto const outcomes = simulate_many(plan(c, rows, 2));
  for (auto const& o : outcomes) EXPECT_EQ(o.failure, "");
  EXPECT_LT(outcomes[1].working_time, outcomes[0].working_time);
}

TEST(SimulateMany, RefusesPlansThatMakeNoSense) {
  auto const good = load("cold_ground_winter.json");
  auto const rows = offsets();
  auto p = plan(good, rows);
  p.base = nullptr;
  EXPECT_THROW(simulate_many(p), InputError);
  p = plan(good, rows);
  p.rows = 5;
  EXPECT_THROW(simulate_many(p), InputError);
  p = plan(good, rows);
  p.tolerance.temperature = 0.0;
  EXPECT_THROW(simulate_many(p), InputError);
  auto bad = good;
  bad.initial.resin = 5.0;
  EXPECT_THROW(simulate_many(plan(bad, rows)), InputError);
  EXPECT_THROW(service_times(plan(bad, rows)), InputError);
  Case const empty;
  EXPECT_THROW(simulate_many(plan(empty, rows)), InputError);
}

/// Every kind of ensemble, on one thread and on several, stops when its caller is asked to stop.
TEST(SimulateMany, StopsWithItsCaller) {
  auto const c = load("cold_ground_winter.json");
  Rows rows{{&find_input("resin.rate_factor")}, std::vector<double>(4000, 1.0), 4000};
  std::vector<double> const times{1000.0, 4000.0};
  for (std::size_t const threads : {1u, 3u}) {
    auto p = plan(c, rows, threads);
    auto const caller = std::this_thread::get_id();
    std::atomic<int> asked = 0;
    // As from Python: only the calling thread knows.
    numerics::StopScope const scope(
        [&] { return std::this_thread::get_id() == caller && ++asked >= 3; });
    EXPECT_THROW(simulate_many(p), numerics::Stopped);
    // Also where a chunk is done before its steps have asked.
    asked = 0;
    p.tolerance.temperature = 1.0;
    p.tolerance.alpha = 0.01;
    EXPECT_THROW(simulate_many(p), numerics::Stopped);
    asked = 0;
    EXPECT_THROW(service_times(p), numerics::Stopped);
    asked = 0;
    TracePlan traced;
    static_cast<RowPlan&>(traced) = p;
    traced.times = times;
    EXPECT_THROW(traces(traced), numerics::Stopped);
  }
}

}  // namespace
}  // namespace cure::ensemble
