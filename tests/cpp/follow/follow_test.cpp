#define CURE_BUILDING  // what is tested here are insides too
#include "cure/follow/follow.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "cure/io/case_file.hpp"
#include "cure/io/follow_file.hpp"
#include "cure/io/readings_file.hpp"

namespace cure::follow {
namespace {

using testing::ElementsAre, testing::HasSubstr;

std::filesystem::path const root(LIBCURE_SOURCE_DIR);
auto const shipped_log = root / "notebooks" / "data" / "follow" / "cold_ground.csv";

Case const& cold() {
  static Case const c =
      io::load_case(root / "models" / "cases" / "cold_ground_winter.json", {{root / "models"}});
  return c;
}

Result few(Readings const& readings, Options options = {}) {
  options.samples = 64;
  return follow(cold(), readings, options);
}

std::vector<std::string> codes(std::vector<Statement> const& statements) {
  std::vector<std::string> found;
  for (auto const& s : statements) found.push_back(s.code);
  return found;
}

/// A cold liner that cures as the case says, seen by a perfect probe from 16 min on.
Readings as_planned(double until_min) {
  Job const job(cold(), "liner outer face", uncertain::usual(), 1);
  auto const n = static_cast<Eigen::Index>(until_min) - 16;
  Eigen::VectorXd const t = 60.0 * Eigen::VectorXd::LinSpaced(n, 16.0, until_min - 1.0);
  return {t, job.traces(RowMatrix::Zero(1, job.unknowns()), t).row(0).transpose()};
}

TEST(Follow, BringsTheReleaseOfTheShippedLogForward) {
  auto const r = follow(cold(), io::read_readings(shipped_log));
  EXPECT_EQ(r.status(), Status::keep_in) << testing::PrintToString(codes(r.reasons));
  EXPECT_TRUE(r.relied_on);
  EXPECT_LT(r.release, 0.85 * r.before.wait_until);
  EXPECT_EQ(std::fmod(r.release, process::release_step), 0.0);
  EXPECT_GE(r.release, r.after.release.p95);
  EXPECT_THAT(codes(r.faults), ElementsAre("missing", "before_held", "out_of_range", "spike"));
  EXPECT_GT(r.effective_rows, few_rows);
  // The document says the same.
  auto const d = io::follow_json("cold", r);
  EXPECT_EQ(d["status"], "keep_in");
  EXPECT_EQ(d["release_min"].get<double>() * 60.0, r.release);
}

TEST(Follow, GivesTheSameToTheBitInWhateverOrderAndForAnyNumberOfThreads) {
  auto const log = as_planned(90.0);
  Options one, two;
  one.threads = 1;
  two.threads = 2;
  auto const a = few(log, one);
  auto b = few({log.time.reverse(), log.temperature.reverse()}, two);
  EXPECT_THAT(codes(b.faults), ElementsAre("unsorted"));
  b.faults.clear();
  EXPECT_EQ(io::follow_json("", a), io::follow_json("", b));
  EXPECT_EQ(a.band_after.p50, b.band_after.p50);
  one.seed = 5;
  EXPECT_NE(io::follow_json("", few(log, one))["after"], io::follow_json("", a)["after"]);
}

TEST(Follow, SaysThatTheReleaseHasPassedOnlyOfReadingsThatAreReliedOn) {
  auto const r = few(as_planned(500.0));
  EXPECT_TRUE(r.passed());
  EXPECT_EQ(r.status(), Status::may_come_out);
  auto hot = as_planned(500.0);
  hot.temperature.array() += 15.0;
  auto const wrong = few(hot);
  EXPECT_FALSE(wrong.relied_on);
  EXPECT_FALSE(wrong.passed());
  EXPECT_GE(wrong.release, wrong.before.wait_until);
  EXPECT_EQ(wrong.status(), Status::not_on_these_readings);
}

TEST(Follow, KnowsNoMoreWithoutReadings) {
  auto const r = few({});
  EXPECT_THAT(codes(r.reasons), ElementsAre("none"));
  EXPECT_EQ(r.release, r.before.wait_until);
  auto const planned = decide::answer(cold());
  EXPECT_EQ(r.before.wait_until, planned.decision.release_time);
  EXPECT_EQ(r.before.release.p95, planned.ranges->release.p95);
  EXPECT_EQ(r.before.gel_last.p95, planned.ranges->gel_last.p95);
}

TEST(Follow, NarrowsWhatIsNotKnownAboutTheTruth) {
  auto const r = few(as_planned(180.0));
  ASSERT_TRUE(r.relied_on) << testing::PrintToString(codes(r.reasons));
  for (auto const& u : r.unknowns) {
    double const nothing = u.unit == "1" ? 1.0 : 0.0;
    EXPECT_LE(u.after.p5, nothing + 1e-9) << u.name;
    EXPECT_GE(u.after.p95, nothing - 1e-9) << u.name;
    EXPECT_LT(u.kept, 1.3)
        << u.name;  // one that nothing is said of keeps its range, but for sampling
  }
  auto const ground = std::find_if(r.unknowns.begin(), r.unknowns.end(),
                                   [](auto const& u) { return u.name == "ground"; });
  EXPECT_LT(ground->kept, 0.95);
  EXPECT_GT(r.after.gel_last.p5, 0.9 * r.before.gel_last.p5);
  EXPECT_LT(r.after.gel_last.p95, 1.1 * r.before.gel_last.p95);
}

TEST(Follow, NamesABadOption) {
  auto const field = [](std::function<void(Options&)> const& change) {
    Options o;
    o.samples = 64;
    change(o);
    try {
      follow(cold(), as_planned(20.0), o);
    } catch (InputError const& e) {
      return e.field();
    }
    return std::string("none");
  };
  EXPECT_EQ(field([](Options& o) { o.at = "pipe middle"; }), "at");
  EXPECT_EQ(field([](Options& o) { o.samples = 100; }), "samples");
  EXPECT_EQ(field([](Options& o) { o.seed = -1; }), "seed");
  EXPECT_EQ(field([](Options& o) { o.now = 600.0; }), "now_min");
  EXPECT_EQ(field([](Options& o) { o.now = std::nan(""); }), "now_min");
  EXPECT_EQ(field([](Options& o) { o.stated.inputs[0].spread = 40.0; }), "uncertain.ground.sd");
  EXPECT_EQ(field([](Options& o) { o.stated.inputs[0].name = "clock"; }), "uncertain.clock");
  EXPECT_EQ(field([](Options& o) { o.stated.inputs[1].name = "ground"; }), "uncertain.ground");
  EXPECT_EQ(field([](Options& o) {
              o.stated.inputs[0].distribution = uncertain::Distribution::lognormal;
            }),
            "uncertain.ground.distribution");
  EXPECT_EQ(field([](Options& o) {
              o.stated.inputs.clear();
              o.stated.constants = false;
            }),
            "uncertain");
  EXPECT_THROW(Readings(Eigen::VectorXd(2), Eigen::VectorXd(3)), InputError);
}

TEST(Follow, StopsWhereverItStands) {
  auto const log = as_planned(60.0);
  for (int const at : {1, 3, 10, 30}) {
    int count = 0;
    numerics::StopScope const scope([&] { return ++count >= at; });
    EXPECT_THROW(few(log, {.threads = 1}), numerics::Stopped) << at;
  }
}

// Its parts

TEST(Job, CountsAResinWithoutCovarianceAsOfUnknownSpeed) {
  auto c = cold();
  c.uncertain_resin = {};
  Job const job(c, "liner outer face", uncertain::usual(), 1);
  EXPECT_TRUE(job.speed_assumed());
  EXPECT_EQ(job.inputs().back().name, "rate");
  auto own = uncertain::usual();
  own.inputs.push_back(speed_of_cure());
  EXPECT_FALSE(Job(c, "liner outer face", own, 1).speed_assumed());
  EXPECT_FALSE(Job(cold(), "liner outer face", uncertain::usual(), 1).speed_assumed());
}

TEST(Job, GivesARowWhoseConstantsCannotBeNoTemperatures) {
  Job const job(cold(), "liner outer face", uncertain::usual(), 1);
  RowMatrix theta = RowMatrix::Zero(2, job.unknowns());
  theta.row(1).tail(job.unknowns() - job.input_count()).setConstant(1e3);
  auto const T = job.traces(theta, Eigen::Vector2d(1200.0, 2400.0));
  EXPECT_TRUE(T.row(0).array().isFinite().all());
  EXPECT_TRUE(T.row(1).array().isNaN().all());
}

TEST(Fit, IsAtLeastAsLikelyAsAnyRowAndAsTheTruth) {
  Job const job(cold(), "liner outer face", uncertain::usual(), 2);
  auto const log = as_planned(150.0);
  auto const data = weigh(log.time, log.temperature, 10.0);
  auto const grid = time_grid(job.held(), 9600.0);
  Known const known{job, grid, job.medium(grid)};
  Rows rows{normal_rows(job.unknowns() + nuisance_count, 64, 3), {}};
  rows.traces = job.traces(rows.x, grid);
  auto const found = fit(known, data, rows, {.covariance = true});
  EXPECT_LE(found.total(), least_total(known, data, rows, 1e300));
  // The truth fits without a residual, and costs nothing by itself.
  EXPECT_LT(found.total(), 0.05);
  EXPECT_LT(found.x.cwiseAbs().maxCoeff(), 0.5);
  // Readings take away from what was not known, never add to it.
  EXPECT_LE(found.covariance.diagonal().maxCoeff(), 1.0 + 1e-6);
  // The probe's error alone, of 1 K, is measured by each reading with its standard deviation, so
  // some direction is known at least as well as that is when all else is known.
  double const information = (nu + 1.0) / nu * data.worth() / (data.sd * data.sd);
  Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> const directions(found.covariance);
  EXPECT_LT(directions.eigenvalues()(0), 1.05 / (1.0 + information));
}

}  // namespace
}  // namespace cure::follow
