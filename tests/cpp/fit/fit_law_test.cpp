/// A whole fit against closed forms: constants that are found again, and errors that are as large
/// as the covariance says.

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

#include "cure/fit/fit_law.hpp"

namespace cure::fit {
namespace {

constexpr double E = 58e3, order = 1.4, heat = 350e3, T_ref = 360.0;
double const ln_k = std::log(3e-3);

double rate_constant(double T) {
  return std::exp(ln_k - E / gas_constant * (1.0 / T - 1.0 / T_ref));
}

/// Isothermal, order n: d(alpha)/dt = k [1 + (n-1) k t]^(n/(1-n)), by separation of variables.
Record isothermal(double T, double noise, std::mt19937& random) {
  std::normal_distribution<double> normal;
  double const k = rate_constant(T), end = 80.0 / k;
  Record r;
  constexpr int points = 600;
  for (int i = 0; i < points; ++i) {
    // Close together at first: an integral by trapezia must not be what differs.
    double const x = static_cast<double>(i) / (points - 1), t = end * x * x;
    r.time.push_back(t);
    r.temperature.push_back(T);
    double const rate = k * std::pow(1.0 + (order - 1.0) * k * t, order / (1.0 - order));
    r.heat_flow.push_back(heat * rate + noise * heat * k * normal(random));
  }
  r.baseline = BaselineKind::level;
  r.windows = {0.0, 0.0, 0.9 * end, end};
  return r;
}

std::vector<FitRun> runs(double noise, unsigned seed) {
  std::mt19937 random(seed);
  std::vector<FitRun> out;
  for (double const T : {345.0, 360.0, 375.0}) out.push_back(run_of(isothermal(T, noise, random)));
  return out;
}

Law nth_order() {
  Law law;
  law.base = base_named("nth-order");
  return law;
}

LawFitOptions options(std::size_t starts) {
  LawFitOptions o;
  o.T_ref = T_ref;
  o.starts = starts;
  return o;
}

TEST(FitLaw, FindsTheConstantsOfAClosedForm) {
  auto const found = fit_law(nth_order(), runs(0.0, 1), {}, options(6));
  ASSERT_EQ(found.value.size(), 3);
  EXPECT_NEAR(found.value(0), ln_k, 1e-3);
  EXPECT_NEAR(found.value(1), E, 1e-3 * E);
  EXPECT_NEAR(found.value(2), order, 2e-3);
  EXPECT_EQ(found.same, found.starts);
  double const T = 350.0, alpha = 0.3;
  double f = 0.0;
  found.scheme.rate.slopes(T, &alpha, &f);
  EXPECT_NEAR(f, rate_constant(T) * std::pow(1.0 - alpha, order), 2e-3 * f);
}

TEST(FitLaw, ErrorsAreAsLargeAsTheCovarianceSays) {
  auto const exact = fit_law(nth_order(), runs(0.0, 1), {}, options(1)).value;
  constexpr int repetitions = 20;
  double sum = 0.0;
  for (unsigned i = 0; i < repetitions; ++i) {
    auto const found = fit_law(nth_order(), runs(0.02, 100 + i), {}, options(1));
    Eigen::VectorXd const off = found.value - exact;
    sum += off.dot(found.covariance.ldlt().solve(off));
  }
  // Chi squared with 3 degrees of freedom each: its mean is that number, its variance twice that;
  // within four standard deviations, were the error of an estimated variance nothing.
  EXPECT_NEAR(sum, 3.0 * repetitions, 4.0 * std::sqrt(2.0 * 3.0 * repetitions));
}

TEST(FitLaw, TakesTimesToGelAlone) {
  // Film at T: alpha_gel after t, from 1 - alpha = [1 + (n-1) k t]^(1/(1-n)).
  std::vector<CupTest> films;
  for (double const T : {285.0, 300.0, 315.0, 330.0}) {
    for (double const gel : {0.3, 0.6}) {
      double const t = (std::pow(1.0 - gel, 1.0 - order) - 1.0) / (order - 1.0) / rate_constant(T);
      films.push_back({t, T, T, HUGE_VAL, 0.0, gel, 0.05});
    }
  }
  auto const found = fit_law(nth_order(), {}, films, options(6));
  EXPECT_NEAR(found.value(1), E, 1e-3 * E);
  EXPECT_NEAR(found.value(2), order, 1e-2);
  EXPECT_GT(found.standard_error(1), 100.0);
}

TEST(FitLaw, RefusesWhatNamesNoFit) {
  EXPECT_THROW((void)fit_law(nth_order(), {}), InputError);
  EXPECT_THROW((void)fit_law(nth_order(), {}, {{100.0, 300.0, 300.0, HUGE_VAL, 0.0, 0.5, 0.1}}),
               InputError);
  EXPECT_THROW((void)run_of({{0.0, 1.0}, {300.0}, {1.0}, {}}), InputError);
}

}  // namespace
}  // namespace cure::fit
