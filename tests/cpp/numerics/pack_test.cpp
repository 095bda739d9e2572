#include "cure/numerics/pack.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace cure {
namespace {

/// One register of float or double a part, and two and four.
template <class P>
class PackOf : public testing::Test {};
using Packs = testing::Types<Pack<float, 8, 16>, Pack<double, 8, 16>, Pack<double, 4, 16>,
                             Pack<double, 2, 16>, Pack<float, 4, 16>>;
TYPED_TEST_SUITE(PackOf, Packs);

template <class P>
P pack_of(double x) {
  P p(0.0);
  for (std::size_t k = 0; k < P::size; ++k) {
    p.set(k, static_cast<typename P::value_type>(x * (1.0 + 0.01 * static_cast<double>(k))));
  }
  return p;
}

TYPED_TEST(PackOf, ExponentialAndLogarithmAreThoseOfTheStandardLibrary) {
  using T = typename TypeParam::value_type;
  double const close = sizeof(T) == 8 ? 5e-16 : 3e-7;
  for (double x = -60.0; x < 60.0; x += 0.0371) {
    auto const p = pack_of<TypeParam>(x);
    auto const e = exp(p);
    for (std::size_t k = 0; k < TypeParam::size; ++k) {
      double const expected = std::exp(static_cast<double>(p.lane(k)));
      ASSERT_NEAR(e.lane(k) / expected, 1.0, close) << x;
    }
    auto const back = log(e);
    for (std::size_t k = 0; k < TypeParam::size; ++k) {
      double const expected = std::log(static_cast<double>(e.lane(k)));
      ASSERT_NEAR(back.lane(k), expected, close * std::max(1e-2, std::abs(expected))) << x;
    }
  }
}

TYPED_TEST(PackOf, ExponentialStaysFiniteAtTheEndsOfItsRange) {
  auto const low = exp(TypeParam(-1e6)), high = exp(TypeParam(1e6));
  for (std::size_t k = 0; k < TypeParam::size; ++k) {
    EXPECT_GE(low.lane(k), 0);
    EXPECT_LT(low.lane(k), 1e-30);
    EXPECT_TRUE(std::isfinite(high.lane(k)));
  }
}

TYPED_TEST(PackOf, LanesKeepApart) {
  using T = typename TypeParam::value_type;
  auto a = pack_of<TypeParam>(2.0);
  auto const b = pack_of<TypeParam>(3.0);
  a.set(1, T(5));
  auto const greater = a > b;
  auto const chosen = select(greater, a, b);
  for (std::size_t k = 0; k < TypeParam::size; ++k) {
    EXPECT_EQ(greater.lane(k), a.lane(k) > b.lane(k));
    EXPECT_EQ(chosen.lane(k), std::max(a.lane(k), b.lane(k)));
    EXPECT_EQ((a * b - a / b).lane(k), a.lane(k) * b.lane(k) - a.lane(k) / b.lane(k));
    EXPECT_EQ(abs(b - a).lane(k), std::abs(b.lane(k) - a.lane(k)));
    EXPECT_EQ(min(a, b).lane(k), std::min(a.lane(k), b.lane(k)));
  }
  EXPECT_TRUE(any(greater));
  EXPECT_FALSE(any(greater & !greater));
}

TEST(Pack, ConvertsLaneByLane) {
  auto const d = pack_of<Pack<double, 8, 16>>(1.0 / 3.0);
  auto const f = convert<float>(d);
  auto const back = convert<double>(f);
  for (std::size_t k = 0; k < 8; ++k) {
    EXPECT_EQ(f.lane(k), static_cast<float>(d.lane(k)));
    EXPECT_EQ(back.lane(k), static_cast<double>(f.lane(k)));
  }
}

}  // namespace
}  // namespace cure
