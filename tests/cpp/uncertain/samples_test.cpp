#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include "cure/uncertain/covariance.hpp"
#include "cure/uncertain/moved_inputs.hpp"
#include "cure/uncertain/normal.hpp"
#include "cure/uncertain/quantile.hpp"
#include "cure/uncertain/sobol.hpp"
#include "cure/uncertain/stated.hpp"

namespace cure::uncertain {
namespace {

// Points

TEST(Sobol, EachProjectionHasOnePointInEachStratum) {
  // A scrambled (t, m, s)-net in base 2 has exactly that in one dimension (A.B. Owen, 1995; from
  // memory), whatever the seed.
  for (std::uint64_t const seed : {1u, 20260101u}) {
    auto const u = unit_points(7, 256, seed);
    for (Eigen::Index d = 0; d < u.cols(); ++d) {
      std::vector<int> hits(256, 0);
      for (Eigen::Index i = 0; i < u.rows(); ++i) ++hits[static_cast<std::size_t>(256.0 * u(i, d))];
      EXPECT_THAT(hits, testing::Each(1));
    }
  }
}

TEST(Sobol, FewerPointsAndDimensionsAreTheFirstOfMore) {
  auto const more = unit_points(5, 128, 7), fewer = unit_points(3, 32, 7);
  EXPECT_TRUE((more.topLeftCorner(32, 3).array() == fewer.array()).all());
  EXPECT_FALSE((unit_points(3, 32, 8).array() == fewer.array()).any());
}

TEST(Sobol, IntegratesAProductBetterThanRandomPoints) {
  // The integral of prod(pi/2 sin(pi x)) over the unit cube is 1; random points would be off by
  // 0.48 sqrt(3/1024) = 0.03 (standard error).
  auto const u = unit_points(3, 1024, 3);
  double sum = 0.0;
  for (Eigen::Index i = 0; i < u.rows(); ++i) {
    double product = 1.0;
    for (Eigen::Index d = 0; d < 3; ++d) {
      product *= 0.5 * std::numbers::pi * std::sin(std::numbers::pi * u(i, d));
    }
    sum += product;
  }
  EXPECT_NEAR(sum / 1024.0, 1.0, 3e-3);
}

TEST(NormalQuantile, IsThatOfBoost) {
  boost::math::normal const standard;
  for (double const p : {1e-9, 0.025, 0.5, 0.95, 1.0 - 1e-9}) {
    EXPECT_NEAR(normal_quantile(p), boost::math::quantile(standard, p), 1e-9);
  }
}

TEST(UsualRanges, HaveNoChangeAsTheirMedian) {
  for (auto const& input : usual().inputs) {
    EXPECT_NEAR(input.value(0.5), input.is_factor() ? 1.0 : 0.0, 1e-12) << input.name;
    EXPECT_LT(input.value(0.1), input.value(0.9)) << input.name;
  }
  auto const moved = moved_inputs(usual(), unit_points(usual().inputs.size(), 64, 1));
  EXPECT_EQ(moved.values.size(), 64 * moved.inputs.size());
  EXPECT_EQ(moved.matrix().cols(), 64);
  EXPECT_EQ(moved.matrix()(moved.matrix().rows() - 1, 63), moved.values.back());
}

// Covariance

TEST(CovarianceFactor, HasTheCovarianceAsItsProduct) {
  Eigen::MatrixXd const L0 =
      (Eigen::MatrixXd(3, 3) << 2.0, 0.0, 0.0, 1e6, 3e6, 0.0, -0.1, 0.2, 1e-3).finished();
  Eigen::MatrixXd const covariance = L0 * L0.transpose();
  auto const L = covariance_factor(covariance);
  ASSERT_TRUE(L);
  EXPECT_TRUE(L->isApprox(L0, 1e-9));
}

TEST(CovarianceFactor, TakesWhatIsSemiDefiniteAndNothingElse) {
  auto const of = [](double a, double b, double c) {
    return covariance_factor((Eigen::MatrixXd(2, 2) << a, b, b, c).finished());
  };
  ASSERT_TRUE(of(1.0, 1.0, 1.0));
  EXPECT_NEAR((*of(1.0, 1.0, 1.0))(1, 0), 1.0, 1e-9);
  EXPECT_TRUE(of(4.0, 2e-3, 1e-6)) << "wholly correlated, of unlike sizes";
  EXPECT_TRUE(of(0.0, 0.0, 9.0));
  EXPECT_TRUE(of(1.0, 1.0 + 1e-9, 1.0)) << "rounded";
  EXPECT_FALSE(of(1.0, 1.0 + 1e-6, 1.0));
  EXPECT_FALSE(of(1.0, 2.0, 1.0));
  EXPECT_FALSE(of(0.0, 1e-12, 1.0)) << "what does not vary has no covariance";
}

// Quantiles

TEST(BoundingRank, IsThatOfPublishedTables) {
  // 95 % of a population with 95 % confidence: 59 samples and their largest, 93 and the second
  // (P.N. Somerville, Ann. Math. Stat. 29, 599, 1958, table; from memory, and as 1 - 0.95^59 > 0.95
  // > 1 - 0.95^58 shows).
  EXPECT_FALSE(bounding_rank(58, 0.95));
  EXPECT_EQ(bounding_rank(59, 0.95), 59u);
  EXPECT_EQ(bounding_rank(92, 0.95), 92u);
  EXPECT_EQ(bounding_rank(93, 0.95), 92u);
}

TEST(UpperSide, CoversTheQuantileOfThePopulation) {
  // Samples of the unit interval, 1,000 seeds: the share below its bound must not be under 95 % by
  // more than four standard errors of a binomial of 1,000 at 95 %, 2.8 % (false alarm 3e-5).
  for (std::size_t const n : {64u, 256u}) {
    int covered = 0;
    for (std::uint64_t seed = 0; seed < 1000; ++seed) {
      std::mt19937_64 random(seed);
      std::vector<double> values(n);
      for (double& v : values) v = static_cast<double>(random() >> 11) * 0x1p-53;
      covered += upper_side(values, 0.95).bound >= 0.95 ? 1 : 0;
    }
    EXPECT_GE(covered, 922) << n;
  }
}

TEST(UpperSide, SaysWhenThereAreTooFew) {
  std::vector<double> values{3.0, 1.0, 2.0};
  auto const side = upper_side(values, 0.95);
  EXPECT_FALSE(side.covered);
  EXPECT_EQ(side.bound, 3.0);
  auto const low = lower_side(values, 0.95);
  EXPECT_EQ(low.bound, 1.0);
}

TEST(Quantiles, AreThoseOfAColumnToo) {
  Eigen::ArrayXd const all = Eigen::ArrayXd::LinSpaced(200, 0.0, 199.0);
  Eigen::Map<Eigen::ArrayXd const, Eigen::Unaligned, Eigen::InnerStride<>> const every_second(
      all.data(), 100, Eigen::InnerStride<>(2));
  EXPECT_EQ(band(every_second, true).p95, 190.0);
  EXPECT_EQ(upper_side(every_second, 0.95).bound,
            upper_side(std::vector<double>(every_second.begin(), every_second.end()), 0.95).bound);
  EXPECT_EQ(lower_side(every_second, 0.95).estimate, 8.0);
}

TEST(Quantiles, RefuseWhatHasNoOrder) {
  std::vector<double> const values{1.0, std::numeric_limits<double>::quiet_NaN()};
  EXPECT_THROW(band(values, true), InputError);
  EXPECT_THROW(upper_side(values, 0.95), InputError);
  EXPECT_THROW(lower_side(std::vector<double>{}, 0.95), InputError);
}

TEST(WeightedValues, GiveOneOfThemOnTheGivenSide) {
  Eigen::VectorXd const values = Eigen::VectorXd::LinSpaced(20, 1.0, 20.0).reverse();
  Eigen::VectorXd weights = Eigen::VectorXd::Constant(20, 0.05);
  EXPECT_EQ(WeightedValues(values, weights).quantile(0.95, true), 19.0);
  EXPECT_EQ(WeightedValues(values, weights).quantile(0.951, true), 20.0);
  EXPECT_EQ(WeightedValues(values, weights).quantile(0.05, false), 1.0);
  EXPECT_EQ(WeightedValues(values, weights).quantile(0.11, false), 2.0);
  weights.setConstant(0.5 / 19.0);
  weights(19) = 0.5;  // of the least
  EXPECT_EQ(WeightedValues(values, weights).quantile(0.5, true), 1.0);
  Eigen::Vector2d const two(std::numeric_limits<double>::infinity(), 3.0);
  EXPECT_TRUE(std::isinf(WeightedValues(two, Eigen::Vector2d(0.06, 0.94)).quantile(0.95, true)));
  EXPECT_EQ(WeightedValues(two, Eigen::Vector2d(0.04, 0.96)).quantile(0.95, true), 3.0);
}

TEST(WeightedValues, RefuseWhatHasNoPlace) {
  Eigen::Vector2d const half(0.5, 0.5), no(0.0, std::numeric_limits<double>::quiet_NaN());
  EXPECT_THROW(WeightedValues(no, half), InputError);
  EXPECT_THROW(WeightedValues(half, Eigen::Vector3d::Constant(1.0 / 3.0)), InputError);
  EXPECT_THROW(WeightedValues(Eigen::VectorXd(), Eigen::VectorXd()), InputError);
}

TEST(UpperSide, LetsNeverStandForNever) {
  std::vector<double> values(256, 1.0);
  for (std::size_t i = 0; i < 9; ++i) values[i] = std::numeric_limits<double>::infinity();
  // 3.5 % never: the 95 % side itself is a time, its confidence bound is not.
  auto const side = upper_side(values, 0.95);
  EXPECT_EQ(side.estimate, 1.0);
  EXPECT_TRUE(std::isinf(side.bound));
}

}  // namespace
}  // namespace cure::uncertain
