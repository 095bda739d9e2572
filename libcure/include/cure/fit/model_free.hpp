#pragma once
/// Activation energies without a rate law.
///
/// Peak methods, from peak temperatures Tp at heating rates beta:
/// - kissinger: ln(beta/Tp^2) = ln(A R/E) - E/(R Tp) (H.E. Kissinger, Anal. Chem. 29, 1702, 1957)
/// - e698: log10(beta) over 1/Tp by Ozawa and Flynn-Wall; the slope is -E D/(R ln 10), with D = 1 +
///   2/x, x = E/(R T), iterated (the procedure of ASTM E698; its D from memory);
///   A = beta E exp(E/RT)/(R T^2) at the middle of the runs
///
/// Isoconversional methods, E at each degree of cure alpha (S. Vyazovkin et al., Thermochim. Acta
/// 520, 1, 2011):
/// - friedman: ln(d alpha/dt) over 1/T
/// - kas: ln(beta/T^2) over 1/T   (Kissinger-Akahira-Sunose), constant heating rates only
/// - vyazovkin: E that makes J_i = integral of exp(-E/(R T(t))) dt over the step of alpha that ends
///              at alpha equal in all runs: the least sum of J_i/J_j, any programme (S. Vyazovkin,
///              J. Comput. Chem. 22, 178, 2001); its band where the variance of the ratios about 1
///              stays below F times the least (S. Vyazovkin, C.A. Wight, Anal. Chem. 72, 3171,
///              2000)

#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/tools/minima.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/fit/regression.hpp"
#include "cure/units.hpp"

namespace cure::fit {

struct PeakResult {
  double E = 0.0;             ///< [J/mol]
  double E_half_width = 0.0;  ///< half width of its 95 % interval [J/mol]; NaN with two runs
  double A = 0.0;             ///< [1/s]
  double r_squared = 0.0;
  double D = 1.0;  ///< the slope factor that the iteration ended with
};

namespace detail {
/// Nothing that is cured reacts measurably outside these; degrees Celsius mostly lie below.
inline constexpr double coldest = 250.0, hottest = 1500.0;  // K

inline void check_temperature(char const* field, double T) {
  if (T >= coldest && T <= hottest) return;
  throw InputError(field, std::to_string(T) + " K",
                   "250 to 1500 K; are the temperatures in degC? Add 273.15");
}

inline void check_peaks(std::span<double const> beta, std::span<double const> Tp) {
  if (beta.size() != Tp.size() || beta.size() < 2) {
    throw InputError("peaks", std::to_string(beta.size()), "two or more heating rates with peaks");
  }
  for (std::size_t i = 0; i < beta.size(); ++i) {
    if (!(beta[i] > 0.0)) throw InputError("heating rate", std::to_string(beta[i]), "above 0 K/s");
    check_temperature("peak", Tp[i]);
  }
}
inline void check_slope(double slope) {
  if (!(slope < 0.0)) {
    throw InputError("peaks", "temperatures that do not rise with the heating rate",
                     "peaks at higher temperature for faster heating");
  }
}
}  // namespace detail

/// @param beta [K/s], @param Tp [K]
inline PeakResult kissinger(std::span<double const> beta, std::span<double const> Tp) {
  detail::check_peaks(beta, Tp);
  std::vector<double> x(Tp.size()), y(Tp.size());
  for (std::size_t i = 0; i < x.size(); ++i) {
    x[i] = 1.0 / Tp[i];
    y[i] = std::log(beta[i] / (Tp[i] * Tp[i]));
  }
  auto const line = regress(x, y);
  detail::check_slope(line.slope);
  double const E = -gas_constant * line.slope;
  return {E, gas_constant * line.slope_half_width, std::exp(line.intercept) * E / gas_constant,
          line.r_squared, 1.0};
}

/// @param beta [K/s], @param Tp [K]
inline PeakResult e698(std::span<double const> beta, std::span<double const> Tp) {
  detail::check_peaks(beta, Tp);
  auto const n = static_cast<double>(Tp.size());
  std::vector<double> x(Tp.size()), y(Tp.size());
  double middle = 0.0, rate = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    x[i] = 1.0 / Tp[i];
    y[i] = std::log(beta[i]);
    middle += x[i] / n;
    rate += y[i] / n;
  }
  auto const line = regress(x, y);
  detail::check_slope(line.slope);
  double const T = 1.0 / middle, beta_middle = std::exp(rate);
  double D = 1.05, E = 0.0;
  for (int i = 0; i < 100; ++i) {
    double const next = -line.slope * gas_constant / D;
    if (std::abs(next - E) <= 1e-12 * next) break;
    E = next;
    D = 1.0 + 2.0 * gas_constant * T / E;
  }
  return {E, gas_constant * line.slope_half_width / D,
          beta_middle * E * std::exp(E / (gas_constant * T)) / (gas_constant * T * T),
          line.r_squared, D};
}

/// One run after its baseline, for the isoconversional methods.
struct ConversionRun {
  std::span<double const> time;         ///< [s]
  std::span<double const> temperature;  ///< [K]
  std::span<double const> alpha;        ///< [-]
  std::span<double const> rate;         ///< d(alpha)/dt [1/s]
  double heating_rate = 0.0;            ///< [K/s]; 0 when it is not constant
};

/// E over the degree of cure; NaN where fewer than three runs reach it.
struct EnergyCurve {
  std::vector<double> E, low, high;  ///< [J/mol], 95 % band
};

namespace detail {

/// Where a run reaches a degree of cure: index of the point before, and the share of the way on.
struct Crossing {
  std::size_t before = 0;
  double share = 0.0;
  bool found = false;
  [[nodiscard]] double of(std::span<double const> y) const {
    return y[before] + share * (y[before + 1] - y[before]);
  }
};

inline Crossing crossing(ConversionRun const& run, double alpha) {
  auto const& a = run.alpha;
  for (std::size_t i = 0; i + 1 < a.size(); ++i) {
    if (a[i] < alpha && a[i + 1] >= alpha) return {i, (alpha - a[i]) / (a[i + 1] - a[i]), true};
  }
  return {};
}

/// Rate at alpha from a line through the points within +-0.01 of it, at least seven.
inline double smooth_rate(ConversionRun const& run, Crossing const& c, double alpha) {
  std::size_t from = c.before, to = c.before + 2;
  auto const last = run.alpha.size();
  auto const inside = [&](std::size_t i) { return std::abs(run.alpha[i] - alpha) < 0.01; };
  while (from > 0 && (inside(from - 1) || to - from < 7)) --from;
  while (to < last && (inside(to) || to - from < 7)) ++to;
  auto const n = to - from;
  return line_through(run.alpha.subspan(from, n), run.rate.subspan(from, n)).at(alpha);
}

/// Refuses runs whose temperatures, in the middle of the reaction, are none of a cure [K].
inline void check_runs(std::span<ConversionRun const> runs) {
  for (auto const& run : runs) {
    for (std::size_t i = 0; i < run.alpha.size(); ++i) {
      if (run.alpha[i] > 0.4 && run.alpha[i] < 0.6) {
        check_temperature("temperature", run.temperature[i]);
      }
    }
  }
}

/// E by a straight line per alpha; `point` gives x and y of a run, or false.
template <class Point>
EnergyCurve by_lines(std::span<ConversionRun const> runs, std::span<double const> alpha,
                     Point const& point) {
  check_runs(runs);
  EnergyCurve out;
  double const none = std::numeric_limits<double>::quiet_NaN();
  for (double const a : alpha) {
    std::vector<double> x, y;
    for (auto const& run : runs) {
      auto const c = crossing(run, a);
      std::pair<double, double> p;
      if (c.found && point(run, c, a, p)) x.push_back(p.first), y.push_back(p.second);
    }
    double E = none, half = none;
    if (x.size() >= 3) {
      auto const line = regress(x, y);
      E = -gas_constant * line.slope;
      half = gas_constant * line.slope_half_width;
    }
    out.E.push_back(E);
    out.low.push_back(E - half);
    out.high.push_back(E + half);
  }
  return out;
}

}  // namespace detail

inline EnergyCurve friedman(std::span<ConversionRun const> runs, std::span<double const> alpha) {
  return detail::by_lines(runs, alpha, [](auto const& run, auto const& c, double a, auto& p) {
    double const rate = detail::smooth_rate(run, c, a);
    if (!(rate > 0.0)) return false;
    p = {1.0 / c.of(run.temperature), std::log(rate)};
    return true;
  });
}

/// Runs without a constant heating rate are left out.
inline EnergyCurve kas(std::span<ConversionRun const> runs, std::span<double const> alpha) {
  return detail::by_lines(runs, alpha, [](auto const& run, auto const& c, double, auto& p) {
    if (!(run.heating_rate > 0.0)) return false;
    double const T = c.of(run.temperature);
    p = {1.0 / T, std::log(run.heating_rate / (T * T))};
    return true;
  });
}

}  // namespace cure::fit
