#include "cure/advise/search.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstddef>
#include <functional>
#include <random>
#include <vector>

namespace cure::advise {
namespace {

Lever icing(double start_C = 30.0, double end_C = 2.0) {
  Lever lever;
  lever.kind = Kind::resin_temperature;
  lever.start = kelvin_from_celsius(start_C);
  lever.end = kelvin_from_celsius(end_C);
  lever.step = 2.0;
  return lever;
}

// Levers

TEST(Lever, ValuesAreRoundFromTheStartToTheEnd) {
  std::mt19937 random(1);
  std::uniform_real_distribution<double> celsius(-20.0, 80.0);
  for (int i = 0; i < 2000; ++i) {
    // Whole degrees too: then the start itself must not be among the values.
    bool const whole = i % 2 == 0;
    double const from = whole ? std::round(celsius(random)) : celsius(random);
    double const to = whole ? std::round(celsius(random)) : celsius(random);
    auto lever = icing(from, to);
    lever.step = i % 3 == 0 ? 5.0 : 2.0;
    auto const values = lever.values();
    double const low = std::min(from, to), high = std::max(from, to);
    double last = from;
    for (double const value : values) {
      double const T = stated_celsius(value);
      EXPECT_EQ(std::fmod(T, lever.step), 0.0);
      EXPECT_TRUE(low <= T && T <= high) << low << " " << T << " " << high;
      EXPECT_EQ(T > last, to > from);
      EXPECT_LE(std::abs(T - last), lever.step);
      EXPECT_EQ(lever.weaker(value),
                value == values.front() ? lever.start : kelvin_from_celsius(last));
      last = T;
    }
    EXPECT_LT(std::abs(to - last), lever.step) << from << " " << to;
  }
}

// Roots

TEST(BrentRoot, IsThatOfBoost) {
  std::function<double(double)> const functions[] = {
      [](double x) { return std::exp(x) - 5.0; },
      [](double x) { return x * x * x - 2.0 * x - 5.0; },
      [](double x) { return std::tanh(20.0 * (x - 2.7)); },
      // Two pieces, as where a criterion is met after a stage or within it.
      [](double x) { return x < 1.9 ? x - 2.5 : 3.0 * x; },
  };
  boost::math::tools::eps_tolerance<double> const close(40);
  for (auto const& f : functions) {
    for (double const tolerance : {1e-2, 1e-6, 1e-12}) {
      std::uintmax_t tries = 200;
      auto const [a, b] = boost::math::tools::toms748_solve(f, 1.0, 4.0, close, tries);
      int calls = 0;
      auto const counted = [&](double x) {
        ++calls;
        return f(x);
      };
      EXPECT_NEAR(numerics::brent_root(counted, 1.0, 4.0, tolerance), 0.5 * (a + b),
                  tolerance + 1e-11);
      EXPECT_NEAR(numerics::brent_root(f, 4.0, 1.0, tolerance), 0.5 * (a + b), tolerance + 1e-11);
      EXPECT_LE(calls, 60);
    }
  }
}

// Halving

TEST(Surely, IsTheFirstThatIsSure) {
  for (std::ptrdiff_t last = 0; last < 40; ++last) {
    for (std::ptrdiff_t first = 0; first <= last; ++first) {
      for (std::ptrdiff_t from = first; from <= last + 1; ++from) {
        int asked = 0;
        auto const sure = [&](std::ptrdiff_t i) {
          ++asked;
          EXPECT_TRUE(first <= i && i <= last);
          return i >= from;
        };
        auto const found = detail::surely(sure, first, last);
        EXPECT_EQ(found.has_value(), from <= last);
        EXPECT_EQ(found.value_or(from), from);
        EXPECT_LE(asked, 13);  // twice the binary logarithm of 40, and one
      }
    }
  }
}

// The search, on jobs whose time is a formula of one temperature

/// Stands for trials in which only resin between two temperatures has the working time.
struct Window {
  double low = 0.0, high = 0.0;  ///< [degC]
  double narrower = 0.0;         ///< by so many minutes is the conservative side sooner
  double hot_above = 1e3;        ///< conservatively too hot above it [degC]
  mutable int runs = 0;

  [[nodiscard]] double minutes(double kelvin) const {
    double const T = celsius_from_kelvin(kelvin);
    return 24.0 + 3.0 * std::min(T - low, high - T);
  }
  [[nodiscard]] std::vector<double> scan(Changes const&, Lever const& lever, Need) const {
    std::vector<double> times;
    for (double const value : lever.values()) times.push_back(minutes(value));
    return times;
  }
  [[nodiscard]] bool meets(Changes const&, double time, Need) const { return time >= 24.0; }
  [[nodiscard]] double room(Changes const& x, Need) const {
    ++runs;
    return minutes(*x.resin) - 24.0;
  }
  [[nodiscard]] bool in_time(Changes const& x, Need) const {
    return minutes(*x.resin) >= 24.0 + narrower;
  }
  [[nodiscard]] bool cool(Changes const& x) const { return stated_celsius(*x.resin) <= hot_above; }
};

std::optional<double> celsius(std::optional<double> kelvin) {
  if (!kelvin) return std::nullopt;
  return stated_celsius(*kelvin);
}

TEST(Look, FindsTheNearestWindowAndSaysWhenThereIsNone) {
  // More cold is not always better: below the window it fails again.
  std::mt19937 random(2);
  std::uniform_real_distribution<double> share(0.0, 1.0);
  int none = 0, sure = 0, unsure = 0;
  for (int i = 0; i < 3000; ++i) {
    Window w;
    w.low = 28.0 * share(random);
    w.high = std::min(w.low + 0.1 + 20.0 * share(random) * share(random), 29.5);
    auto const lever = icing();
    auto const found = look(w, {}, lever, Need::working);
    std::vector<double> inside;
    for (double T = 28.0; T >= 2.0; T -= 2.0) {
      if (w.low <= T && T <= w.high) inside.push_back(T);
    }
    if (inside.size() < 2) {  // one alone has no reserve
      ++none;
      EXPECT_FALSE(found.value);
      EXPECT_EQ(celsius(found.harmful),
                inside.empty() ? std::nullopt : std::optional(inside.front()));
      continue;
    }
    EXPECT_EQ(celsius(found.value), inside[1]);
    EXPECT_EQ(celsius(found.middle), inside[1]);
    EXPECT_EQ(celsius(found.works_to), inside.back());
    EXPECT_GE(w.minutes(*found.edge), 24.0);
    EXPECT_LT(w.minutes(*found.edge + 0.05), 24.0);
    // On the conservative side the window is narrower.
    w.narrower = 6.0 * share(random);
    auto const surely = look(w, {}, lever, Need::working);
    if (!surely.value) {
      ++unsure;
      EXPECT_TRUE(surely.harmful);
      continue;
    }
    ++sure;
    Changes x, before, one_more;
    x.resin = surely.value;
    before.resin = kelvin_from_celsius(stated_celsius(*surely.value) + 2.0);
    one_more.resin = kelvin_from_celsius(stated_celsius(*surely.value) + 4.0);
    EXPECT_LE(*surely.value, *found.value);
    EXPECT_TRUE(w.in_time(x, Need::working) && w.in_time(before, Need::working));
    EXPECT_TRUE(surely.value == found.value || !w.in_time(one_more, Need::working));
  }
  EXPECT_GT(std::min({none, sure, unsure}), 100);
}

TEST(Look, GoesOnToWhatIsCoolWhenMoreWorkingTimeIsNeeded) {
  Window w{5.0, 25.0, 0.0, 19.0};
  auto const found = look(w, {}, icing(), Need::working);
  EXPECT_EQ(celsius(found.value), 16.0);  // 18 is the first that is cool, 24 the first in time
  EXPECT_EQ(celsius(found.middle), 22.0);
  w.hot_above = 0.0;
  auto const never = look(w, {}, icing(), Need::working);
  EXPECT_FALSE(never.value);
  EXPECT_EQ(celsius(never.harmful), 24.0);
}

TEST(Look, TakesFewWholeRuns) {
  Window const w{5.0, 20.0};
  look(w, {}, icing(), Need::working);
  EXPECT_LE(w.runs, 12);
}

TEST(Look, SaysHowNearTheBestComes) {
  Window const w{40.0, 45.0};
  auto const found = look(w, {}, icing(), Need::working);
  EXPECT_FALSE(found.value || found.harmful || found.edge);
  EXPECT_EQ(celsius(found.best_at), 28.0);
  EXPECT_DOUBLE_EQ(found.best_time, w.minutes(kelvin_from_celsius(28.0)));
}

}  // namespace
}  // namespace cure::advise
