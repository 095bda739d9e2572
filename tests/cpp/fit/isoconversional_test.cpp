/// Records, baselines and activation energies without a law, against closed forms.

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

#include "cure/fit/baseline.hpp"
#include "cure/fit/isoconversional.hpp"
#include "cure/fit/law.hpp"
#include "cure/fit/sensitivity.hpp"
#include "cure/fit/temperature_integral.hpp"

namespace cure::fit {
namespace {

struct Simulated {
  double beta;
  std::vector<double> time, T, alpha, rate;
  [[nodiscard]] ConversionRun run() const { return {time, T, alpha, rate, beta}; }
  [[nodiscard]] double peak() const {
    auto const i =
        static_cast<std::size_t>(std::max_element(rate.begin(), rate.end()) - rate.begin());
    // A parabola through the three highest points.
    double const a = rate[i - 1], b = rate[i], c = rate[i + 1];
    return T[i] + 0.5 * (T[i + 1] - T[i]) * (a - c) / (a - 2.0 * b + c);
  }
};

/// First-order heating in closed form; order n by its own closed form of the same integral:
/// g(alpha) = (A E/(R beta)) (p(x) - p(x0)).
Simulated order_n(double n, double A, double E, double beta) {
  Simulated s{beta, {}, {}, {}, {}};
  double const from = 220.0, to = 560.0, x0 = E / (gas_constant * from);
  for (int i = 0; i <= 6000; ++i) {
    double const T = from + (to - from) * i / 6000.0, x = E / (gas_constant * T);
    double const g =
        A * E / (gas_constant * beta) * (temperature_integral(x) - temperature_integral(x0));
    double const left = n == 1.0 ? std::exp(-g) : std::pow(1.0 + (n - 1.0) * g, -1.0 / (n - 1.0));
    s.time.push_back((T - from) / beta);
    s.T.push_back(T);
    s.alpha.push_back(1.0 - left);
    s.rate.push_back(A * std::exp(-x) * std::pow(left, n));
  }
  return s;
}

std::vector<Simulated> simulated(double n) {
  std::vector<Simulated> s;
  for (double const beta : {2.5, 5.0, 10.0, 20.0}) s.push_back(order_n(n, 2e6, 62e3, beta / 60.0));
  return s;
}

TEST(PeakMethods, GiveEWithinHalfAPercent) {
  for (double const n : {1.0, 1.5, 2.0}) {
    std::vector<double> beta, Tp;
    for (auto const& s : simulated(n)) beta.push_back(s.beta), Tp.push_back(s.peak());
    EXPECT_NEAR(kissinger(beta, Tp).E, 62e3, 0.005 * 62e3) << n;
    EXPECT_NEAR(e698(beta, Tp).E, 62e3, 0.005 * 62e3) << n;
    if (n == 1.0) {
      EXPECT_NEAR(std::log(kissinger(beta, Tp).A / 2e6), 0.0, 0.02);
    }
  }
}

TEST(PeakMethods, PeaksThatFallAreRefused) {
  std::vector<double> const beta{0.1, 0.2, 0.4}, Tp{420.0, 410.0, 400.0};
  EXPECT_THROW(kissinger(beta, Tp), InputError);
  EXPECT_THROW(e698(beta, Tp), InputError);
  EXPECT_THROW(kissinger(std::vector<double>{0.1}, std::vector<double>{400.0}), InputError);
}

TEST(Isoconversional, TemperaturesInCelsiusAreRefused) {
  std::vector<double> const beta{0.1, 0.2}, Tp{110.0, 146.3};
  EXPECT_THROW(kissinger(beta, Tp), InputError);
  EXPECT_THROW(e698(beta, Tp), InputError);
  auto const s = simulated(1.0);
  std::vector<std::vector<double>> celsius;
  for (auto const& one : s) {
    celsius.emplace_back();
    for (double const T : one.run().temperature) celsius.back().push_back(T - 273.15);
  }
  std::vector<ConversionRun> runs;
  for (std::size_t i = 0; i < s.size(); ++i) {
    runs.push_back(s[i].run());
    runs.back().temperature = celsius[i];
  }
  std::vector<double> const alpha{0.2, 0.5};
  EXPECT_THROW(friedman(runs, alpha), InputError);
  EXPECT_THROW(kas(runs, alpha), InputError);
  EXPECT_THROW(vyazovkin(runs, alpha), InputError);
}

TEST(Isoconversional, SingleStepHasOneEnergy) {
  for (double const n : {1.0, 1.6}) {
    auto const s = simulated(n);
    std::vector<ConversionRun> runs;
    for (auto const& one : s) runs.push_back(one.run());
    std::vector<double> alpha;
    for (int i = 1; i <= 19; ++i) alpha.push_back(0.05 * i);
    auto const v = vyazovkin(runs, alpha), f = friedman(runs, alpha), k = kas(runs, alpha);
    for (std::size_t i = 0; i < alpha.size(); ++i) {
      EXPECT_NEAR(v.E[i], 62e3, 0.001 * 62e3) << alpha[i];
      EXPECT_NEAR(f.E[i], 62e3, 0.002 * 62e3) << alpha[i];
      EXPECT_NEAR(k.E[i], 62e3, 0.01 * 62e3) << alpha[i];
      EXPECT_LE(v.low[i], v.E[i]);
      EXPECT_GE(v.high[i], v.E[i]);
    }
  }
}

TEST(Isoconversional, FewRunsGiveNoEnergyButNoNonsense) {
  auto const s = simulated(1.0);
  std::vector<ConversionRun> const runs{s[0].run(), s[1].run()};
  std::vector<double> const alpha{0.5};
  EXPECT_TRUE(std::isnan(friedman(runs, alpha).E[0]));
  EXPECT_TRUE(std::isnan(vyazovkin(runs, alpha).E[0]));
}

/// Values of p(x) computed to 9 digits, cross-checked against the
/// tabulated -log10 p(x) of the Flynn-Wall procedure (8: 5.3699, 20: 11.3277, from memory).
TEST(TemperatureIntegral, AgreesWithTabulatedValues) {
  struct Row {
    double x, p;
  };
  for (auto const& row :
       {Row{5.0, 1.99293809e-04}, Row{10.0, 3.83024047e-07}, Row{20.0, 4.70242822e-12},
        Row{40.0, 2.53153024e-21}, Row{60.0, 2.35508948e-30}}) {
    EXPECT_NEAR(temperature_integral(row.x) / row.p, 1.0, 5e-9) << row.x;
  }
  EXPECT_NEAR(-std::log10(temperature_integral(8.0)), 5.3699, 5e-5);
  EXPECT_NEAR(-std::log10(temperature_integral(20.0)), 11.3277, 5e-5);
  EXPECT_NEAR(temperature_integral_slope(10.0), 1.1853, 5e-5);
}

TEST(Baseline, EachKindTakesItsOwnShapeAway) {
  std::vector<double> time, hump(301);
  for (int i = 0; i <= 300; ++i) time.push_back(10.0 * i);
  Windows const w{0.0, 300.0, 2700.0, 3000.0};
  for (std::size_t i = 0; i < time.size(); ++i) {
    double const u = (time[i] - 1500.0) / 150.0;
    hump[i] = 2.0 * std::exp(-0.5 * u * u);
  }
  double const area = 2.0 * 150.0 * std::sqrt(2.0 * 3.14159265358979);
  auto const plus = [&](auto const& b) {
    auto y = hump;
    for (std::size_t i = 0; i < y.size(); ++i) y[i] += b(time[i]);
    return y;
  };
  auto const straight = plus([](double t) { return 0.3 + 2e-4 * t; });
  EXPECT_NEAR(subtract_baseline(BaselineKind::linear, time, straight, w).heat, area, 1e-6 * area);
  EXPECT_NEAR(subtract_baseline(BaselineKind::spline, time, straight, w).heat, area, 1e-6 * area);
  EXPECT_NEAR(subtract_baseline(BaselineKind::tangential_sigmoidal, time, straight, w).heat, area,
              1e-6 * area);
  auto const cubic = plus([](double t) { return 1e-10 * t * t * (3000.0 - t); });
  EXPECT_NEAR(subtract_baseline(BaselineKind::spline, time, cubic, w).heat, area, 0.02 * area);
  auto const flat = plus([](double) { return -0.7; });
  EXPECT_NEAR(subtract_baseline(BaselineKind::level, time, flat, w).heat, area, 1e-6 * area);
  // A heat capacity that steps with cure is what the sigmoid is for.
  auto const exact = subtract_baseline(BaselineKind::linear, time, hump, w);
  auto stepped = hump;
  for (std::size_t i = 0; i < hump.size(); ++i) {
    double const a = exact.released[i] / exact.heat;
    stepped[i] += (1.0 - a) * (0.2 + 1e-5 * time[i]) + a * (-0.1 + 3e-5 * time[i]);
  }
  EXPECT_NEAR(subtract_baseline(BaselineKind::tangential_sigmoidal, time, stepped, w).heat, area,
              1e-5 * area);
}

TEST(Baseline, RefusesWrongSignAndThinWindows) {
  std::vector<double> time, dip;
  for (int i = 0; i <= 300; ++i) {
    time.push_back(i);
    dip.push_back(-std::exp(-0.5 * (i - 150.0) * (i - 150.0) / 400.0));
  }
  EXPECT_THROW(subtract_baseline(BaselineKind::linear, time, dip, {0, 30, 270, 300}), InputError);
  EXPECT_THROW(subtract_baseline(BaselineKind::linear, time, dip, {0, 1, 270, 300}), InputError);
  EXPECT_THROW(subtract_baseline(BaselineKind::linear, time, dip, {0, 200, 150, 300}), InputError);
}

TEST(Record, MeasuresWhatIsWrong) {
  std::vector<double> time, T, q;
  for (int i = 0; i < 500; ++i) {
    time.push_back(2.0 * i);
    T.push_back(300.0 + 0.1 * 2.0 * i);
    q.push_back(std::min(0.8, std::exp(-0.5 * std::pow((i - 250) / 30.0, 2))));
  }
  auto const clean = quality_of(time, T, q);
  EXPECT_NEAR(clean.heating_rate, 0.1, 1e-12);
  EXPECT_NEAR(clean.median_step, 2.0, 1e-12);
  EXPECT_GT(clean.flat_top, 30u);
  EXPECT_EQ(clean.first_unsorted, 0u);
  auto gap = time;
  for (std::size_t i = 300; i < gap.size(); ++i) gap[i] += 50.0;
  EXPECT_NEAR(quality_of(gap, T, q).largest_gap, 52.0, 1e-9);
  EXPECT_NEAR(quality_of(gap, T, q).gap_at, 598.0, 1e-9);
  std::swap(time[100], time[101]);
  EXPECT_EQ(quality_of(time, T, q).first_unsorted, 101u);
}

TEST(Record, NoiseIsThatOfWhiteNoiseOnAnyStraightLine) {
  constexpr int n = 4000;
  std::mt19937 random(1);
  std::normal_distribution<double> noise(0.0, 0.3);
  std::vector<double> time, T, q;
  for (int i = 0; i < n; ++i) {
    time.push_back(i);
    T.push_back(300.0);
    q.push_back(5.0 - 0.01 * i + noise(random));
  }
  // The median of |x| has a standard error of 1.17 sd / sqrt(n) for a normal x, here of neighbours
  // that are correlated: 5 of it, doubled.
  EXPECT_NEAR(quality_of(time, T, q).noise, 0.3, 2.0 * 5.0 * 1.17 * 0.3 / std::sqrt(n));
  for (int i = 0; i < n; ++i) q[static_cast<std::size_t>(i)] = 5.0 - 0.01 * i;
  EXPECT_NEAR(quality_of(time, T, q).noise, 0.0, 1e-12);
}

TEST(Record, UnitsAndSigns) {
  EXPECT_DOUBLE_EQ(heat_flow_factor("mW", 10e-6, true), 100.0);
  EXPECT_DOUBLE_EQ(heat_flow_factor("W/g", 0.0, false), -1000.0);
  EXPECT_THROW(heat_flow_factor("mW", 0.0, true), InputError);
  EXPECT_THROW(heat_flow_factor("BTU/h", 1e-5, true), InputError);
}

TEST(Record, ProgrammeFindsTheCornersAndNotTheNoise) {
  std::vector<double> time, T;
  for (int i = 0; i <= 1000; ++i) {
    time.push_back(i);
    T.push_back(i < 400 ? 300.0 + 0.2 * i : 380.0);
    T.back() += 0.02 * ((i * 7919) % 13 - 6) / 6.0;
  }
  auto const p = programme(time, T, 0.1);
  EXPECT_LE(p.times().size(), 6u);
  for (std::size_t i = 0; i < time.size(); ++i) EXPECT_NEAR(p.at(time[i]), T[i], 0.1 + 1e-12);
}

}  // namespace
}  // namespace cure::fit
