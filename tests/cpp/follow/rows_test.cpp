#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "cure/follow/assumptions.hpp"
#include "cure/follow/grid.hpp"
#include "cure/follow/importance.hpp"
#include "cure/follow/likelihood.hpp"
#include "cure/follow/weighted.hpp"

namespace cure::follow {
namespace {

// Quantiles

TEST(Median, IsTheMiddleOrTheMeanOfTheTwoThere) {
  std::vector<double> odd{5.0, -1.0, 2.0}, even{8.0, 1.0, 3.0, -4.0};
  EXPECT_EQ(median(odd), 2.0);
  EXPECT_EQ(median(even), 2.0);
}

TEST(LinearQuantile, LeavesNanOut) {
  std::vector<double> v{4.0, std::nan(""), 1.0, 2.0, 3.0};
  EXPECT_DOUBLE_EQ(linear_quantile(v, 0.5), 2.5);
  EXPECT_DOUBLE_EQ(linear_quantile(v, 1.0), 4.0);
  EXPECT_DOUBLE_EQ(linear_quantile(v, 0.1), 1.3);
  std::vector<double> none{std::nan("")};
  EXPECT_TRUE(std::isnan(linear_quantile(none, 0.5)));
}

TEST(SafeShare, IsLaterForFewRows) {
  EXPECT_GT(safe_share(300.0), side + 0.01);
  EXPECT_LT(safe_share(300.0), 0.99);
  EXPECT_NEAR(safe_share(1e9), side, 1e-4);
  EXPECT_EQ(safe_share(30.0), furthest_side);
}

// A probe that comes off

TEST(Off, GoesOverToTheFillFromItsMomentOn) {
  Off const off{600.0, 0.8};
  EXPECT_EQ(off.at(0.0), 0.0);
  EXPECT_EQ(off.at(600.0), 0.0);
  EXPECT_NEAR(off.at(720.0), 0.8 * (1.0 - std::exp(-1.0)), 1e-15);
  EXPECT_NEAR(off.at(9600.0), 0.8, 1e-12);
}

// Times

TEST(TimeGrid, IsFineWhereTheWallMoves) {
  auto const grid = time_grid({840.0, 87240.0}, 20000.0);
  EXPECT_EQ(grid(0), 0.0);
  EXPECT_EQ(grid(grid.size() - 1), 20000.0);
  for (Eigen::Index i = 0; i + 1 < grid.size(); ++i) {
    double const step = grid(i + 1) - grid(i);
    EXPECT_GT(step, 0.0);
    if (grid(i) >= 840.0) {
      EXPECT_LE(step, std::max(20.0, 0.0101 * (grid(i) - 840.0)) + 1e-9);
    }
  }
  EXPECT_EQ(time_grid({0.0, 600.0}, 1e9).tail<1>()(0), 600.0);
}

TEST(Walk, FindsTimesBetweenThoseOfAGrid) {
  Eigen::VectorXd const grid = Eigen::Vector3d(0.0, 10.0, 30.0);
  Eigen::Vector3d const trace(1.0, 2.0, 6.0);
  Walk walk(grid);
  EXPECT_EQ(walk.to(-1.0).of(trace), 1.0);
  EXPECT_DOUBLE_EQ(walk.to(5.0).of(trace), 1.5);
  EXPECT_DOUBLE_EQ(walk.to(10.0).of(trace), 2.0);
  EXPECT_DOUBLE_EQ(walk.to(20.0).of(trace), 4.0);
  EXPECT_EQ(walk.to(31.0).of(trace), 6.0);
}

TEST(Weigh, MakesALogWorthNoMoreThanItsTime) {
  Eigen::VectorXd const minutes = Eigen::VectorXd::LinSpaced(60, 17.0, 76.0);
  auto const sparse = weigh(60.0 * minutes, Eigen::VectorXd::Constant(60, 280.0), 0.0);
  auto const n = 59 * 60 + 1;
  Eigen::VectorXd const seconds = Eigen::VectorXd::LinSpaced(n, 17.0 * 60.0, 76.0 * 60.0);
  auto const dense = weigh(seconds, Eigen::VectorXd::Constant(n, 280.0), 0.0);
  EXPECT_NEAR(sparse.worth(), 59.0 * 60.0 / correlation_time, 1e-9);
  EXPECT_NEAR(dense.worth() / sparse.worth(), 1.0, 0.02);
  EXPECT_LT(dense.size(), 130);
  EXPECT_EQ(weigh(Eigen::Vector2d(0.0, 36000.0), Eigen::Vector2d(280.0, 281.0), 0.0).weight(0),
            1.0);
}

// Importance

TEST(Weighted, RowsOfAMixtureStandForAnyDistributionThatItCovers) {
  // A normal likelihood of known posterior: x ~ N(0, 1), reading 2 with standard deviation 0.5, so
  // mean 1.6 and variance 0.2.
  Eigen::Index const n = 2048;
  std::vector<detail::Proposal> const mixture{
      {Eigen::VectorXd::Zero(1), Eigen::MatrixXd::Identity(1, 1)},
      {Eigen::VectorXd::Constant(1, 1.4), 0.6 * Eigen::MatrixXd::Identity(1, 1)}};
  RowMatrix x(2 * n, 1);
  x.topRows(n) = normal_rows(1, n, 1);
  x.bottomRows(n) = (0.6 * normal_rows(1, n, 2).array() + 1.4).matrix();
  Eigen::VectorXd const log_p = -0.5 * ((x.array() - 2.0) / 0.5).square();
  auto const rows = detail::weighted(x, mixture, log_p);
  double const mean = rows.weight.dot(rows.x.col(0));
  EXPECT_NEAR(rows.weight.sum(), 1.0, 1e-12);
  EXPECT_NEAR(mean, 1.6, 0.01);
  EXPECT_NEAR(rows.weight.dot((rows.x.col(0).array() - mean).square().matrix()), 0.2, 0.01);
  EXPECT_GT(rows.effective, 1000.0);
}

}  // namespace
}  // namespace cure::follow
