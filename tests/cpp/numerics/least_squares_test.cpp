#include "cure/numerics/least_squares.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace cure::numerics {
namespace {

Eigen::VectorXd valley(Eigen::VectorXd const& x) {
  return Eigen::Vector2d(10.0 * (x(1) - x(0) * x(0)), 1.0 - x(0));
}
Eigen::MatrixXd valley_slopes(Eigen::VectorXd const& x) {
  Eigen::Matrix2d J;
  J << -20.0 * x(0), 10.0, -1.0, 0.0;
  return J;
}

TEST(LeastSquares, FollowsACurvedValley) {
  // H.H. Rosenbrock, Comput. J. 3, 175, 1960: least at (1, 1).
  auto const found = least_squares(valley, valley_slopes, Eigen::Vector2d(-1.2, 1.0), -4.0, 4.0,
                                   {.cost_tolerance = 1e-12});
  EXPECT_NEAR(found.x(0), 1.0, 1e-3);
  EXPECT_NEAR(found.x(1), 1.0, 1e-3);
  EXPECT_LT(found.cost, 1e-6);
}

TEST(LeastSquares, StaysBetweenTheBounds) {
  // With x below 0.5 the least is on that bound, y = x^2 = 0.25.
  auto const found = least_squares(valley, valley_slopes, Eigen::Vector2d(-0.4, 0.4), -0.5, 0.5);
  EXPECT_EQ(found.x(0), 0.5);
  EXPECT_NEAR(found.x(1), 0.25, 1e-4);
  EXPECT_NEAR(found.cost, 0.125, 1e-6);
}

TEST(LeastSquares, SolvesAStraightLineInAStep) {
  // Straight line through (0, 1), (1, 3), (2, 4): normal equations give 7/6 and 3/2.
  Eigen::MatrixXd A(3, 2);
  A << 1, 0, 1, 1, 1, 2;
  Eigen::Vector3d const y(1.0, 3.0, 4.0);
  int jacobians = 0;
  auto const found =
      least_squares([&](Eigen::VectorXd const& x) { return Eigen::VectorXd(A * x - y); },
                    [&](Eigen::VectorXd const&) {
                      ++jacobians;
                      return A;
                    },
                    Eigen::Vector2d::Zero(), -10.0, 10.0);
  EXPECT_NEAR(found.x(0), 7.0 / 6.0, 1e-3);
  EXPECT_NEAR(found.x(1), 1.5, 1e-3);
  EXPECT_LE(jacobians, 5);
}

}  // namespace
}  // namespace cure::numerics
