#include "cure/follow/faults.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

namespace cure::follow {
namespace {

using testing::ElementsAre;

constexpr double zero = 273.15;
std::pair<double, double> const held{600.0, 20000.0};

/// An invented wall that warms by 20 K in an hour, give or take a tenth, in a fill of 45 degrees.
struct Wall {
  Eigen::VectorXd grid = time_grid(held, 8000.0);
  Eigen::VectorXd medium =
      (grid.array() < held.first)
          .select(Eigen::VectorXd::Constant(grid.size(), zero + 5.0), zero + 45.0);
  RowMatrix traces = RowMatrix(41, grid.size());

  Wall() {
    for (Eigen::Index i = 0; i < traces.rows(); ++i) {
      for (Eigen::Index j = 0; j < grid.size(); ++j) {
        traces(i, j) = at(grid(j), 0.9 + 0.005 * static_cast<double>(i));
      }
    }
    traces.row(7).setConstant(std::nan(""));  // a row that could not be computed
  }
  static double at(double t, double share = 1.0) {
    return zero + 10.0 + share * 20.0 * std::min(t / 3600.0, 1.0);
  }
  [[nodiscard]] Screened screen(Readings const& r) const {
    return follow::screen(r, held, WallRange(grid, traces), medium);
  }
};

/// One a minute from 12 to 80 min.
Readings log() {
  Eigen::VectorXd const t = 60.0 * Eigen::VectorXd::LinSpaced(69, 12.0, 80.0);
  return {t, t.unaryExpr([](double s) { return Wall::at(s); })};
}

std::vector<std::pair<std::string, std::size_t>> codes(Screened const& s) {
  std::vector<std::pair<std::string, std::size_t>> found;
  for (auto const& statement : s.statements) found.emplace_back(statement.code, statement.count);
  return found;
}
using Codes = std::vector<std::pair<std::string, std::size_t>>;

TEST(Screen, FindsNothingWrongWithTheWallItself) {
  EXPECT_EQ(codes(Wall().screen(log())), Codes());
}

TEST(Screen, LeavesOutWhatIsNoReadingOfTheHeldLiner) {
  auto r = log();
  r.time(0) = std::nan("");
  r.temperature(1) = std::nan("");
  r.time(2) = -60.0;
  r.time(3) = 660.0;
  r.time(4) = 21000.0;
  r.temperature(5) = zero + 1372.0;
  auto const s = Wall().screen(r);
  EXPECT_EQ(codes(s), (Codes{{"no_time", 1},
                             {"unsorted", 2},
                             {"missing", 1},
                             {"before_mixing", 1},
                             {"before_held", 1},
                             {"after_hold", 1},
                             {"out_of_range", 1}}));
  EXPECT_EQ(s.with(used).size(), 63u);
  EXPECT_TRUE(std::is_sorted(s.time.begin(), s.time.end()));
}

TEST(Screen, FindsSpikesAlsoBesideLargerOnes) {
  auto r = log();
  r.temperature(20) += 40.0;
  r.temperature(21) += 9.0;
  r.temperature(40) -= 8.0;
  auto const s = Wall().screen(r);
  EXPECT_EQ(codes(s), (Codes{{"spike", 3}}));
  EXPECT_TRUE(s.is(20, "spike") && s.is(21, "spike") && s.is(40, "spike"));
  EXPECT_EQ(s.statements[0].text,
            "3 readings jump faster than the wall can follow (at 32, 33, 52 min); not used.");
}

TEST(Screen, FindsAnotherUnit) {
  auto r = log();
  r.temperature = (1.8 * (r.temperature.array() - zero) + 32.0 + zero).matrix();
  EXPECT_EQ(codes(Wall().screen(r)), (Codes{{"unit", 69}}));
}

TEST(Screen, FindsTheZerosOfADeadChannel) {
  for (double const nothing : {zero, zero - 32.0 / 1.8}) {
    auto dead = log();
    dead.temperature.segment(5, 4).setConstant(nothing);
    dead.temperature.segment(30, 3).setConstant(nothing);
    auto const s = Wall().screen(dead);
    EXPECT_EQ(codes(s), (Codes{{"dead", 7}}));
    EXPECT_THAT(s.with("dead"), ElementsAre(5, 6, 7, 8, 30, 31, 32));
  }
}

TEST(Screen, FindsAProbeThatIsStuckOrHasComeOff) {
  auto stuck = log();
  stuck.temperature.segment(10, 20).setConstant(stuck.temperature(10));
  auto const still = Wall().screen(stuck);
  EXPECT_EQ(codes(still), (Codes{{"stuck", 20}}));
  EXPECT_EQ(still.with("stuck").front(), 10);
  EXPECT_EQ(still.with("stuck").back(), 29);
  auto off = log();
  for (Eigen::Index i = 50; i < off.time.size(); ++i) {
    off.temperature(i) = zero + 45.0 + 0.3 * std::sin(static_cast<double>(i));
  }
  auto const s = Wall().screen(off);
  EXPECT_EQ(codes(s), (Codes{{"fallen_off", 19}}));
  EXPECT_THAT(s.statements[0].text, testing::HasSubstr("the fill of the bladder"));
}

TEST(Screen, UsesRepeatedReadingsOnceAndDifferentOnesOfAMomentNotAtAll) {
  auto const one = log();
  auto const twice = [&](double by) {
    Eigen::VectorXd t(75), T(75);
    t << one.time, one.time.head(6);
    T << one.temperature, (one.temperature.head(6).array() + by).matrix();
    return Wall().screen({t, T});
  };
  EXPECT_EQ(codes(twice(0.0)), (Codes{{"unsorted", 1}, {"repeated", 6}}));
  EXPECT_EQ(codes(twice(5.0)), (Codes{{"unsorted", 1}, {"doubled", 12}}));
}

TEST(Screen, DoesNotMindTheOrderOfTheFile) {
  auto const r = log();
  Readings const turned(r.time.reverse(), r.temperature.reverse());
  auto const a = Wall().screen(r), b = Wall().screen(turned);
  EXPECT_EQ(a.time, b.time);
  EXPECT_EQ(a.temperature, b.temperature);
}

TEST(FindGap, IsLongOnlyBesideTheUsualSpacing) {
  Eigen::VectorXd const minutes = 60.0 * Eigen::VectorXd::LinSpaced(20, 1.0, 20.0);
  EXPECT_FALSE(find_gap(minutes, 1200.0 + 899.0));
  EXPECT_EQ(find_gap(minutes, 1200.0 + 901.0), 901.0);
  EXPECT_FALSE(find_gap(5.0 * minutes, 6000.0 + 2900.0));
}

}  // namespace
}  // namespace cure::follow
