#pragma once
/// Isoconversional methods: the activation energy E at each degree of cure alpha, without a rate
/// law (S. Vyazovkin et al., Thermochim. Acta 520, 1, 2011):
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
#include <utility>
#include <vector>

#include "cure/fit/peak_methods.hpp"

namespace cure::fit {

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

namespace detail {

/// The step of alpha of one run: times and temperatures of its ends and of the points inside.
struct Stretch {
  std::vector<double> time, inverse_T;
  /// Integral of exp(-E/R (1/T - 1/T_mid)) dt.
  [[nodiscard]] double integral(double E, double inverse_mid) const {
    double sum = 0.0, before = 0.0;
    for (std::size_t i = 0; i < time.size(); ++i) {
      double const v = std::exp(-E / gas_constant * (inverse_T[i] - inverse_mid));
      if (i > 0) sum += 0.5 * (time[i] - time[i - 1]) * (before + v);
      before = v;
    }
    return sum;
  }
};

inline Stretch stretch(ConversionRun const& run, Crossing const& from, Crossing const& to) {
  Stretch s;
  auto const add = [&](double t, double T) {
    s.time.push_back(t);
    s.inverse_T.push_back(1.0 / T);
  };
  add(from.of(run.time), from.of(run.temperature));
  for (std::size_t i = from.before + 1; i <= to.before; ++i) add(run.time[i], run.temperature[i]);
  add(to.of(run.time), to.of(run.temperature));
  return s;
}

}  // namespace detail

/// @param alpha ascending; each step of alpha runs from the one before (from 0.005 at the first)
/// @param confidence of the band
inline EnergyCurve vyazovkin(std::span<ConversionRun const> runs, std::span<double const> alpha,
                             double confidence = 0.95) {
  detail::check_runs(runs);
  EnergyCurve out;
  double const none = std::numeric_limits<double>::quiet_NaN();
  for (std::size_t k = 0; k < alpha.size(); ++k) {
    double const from = k > 0 ? alpha[k - 1] : std::min(0.005, 0.5 * alpha[0]);
    std::vector<detail::Stretch> parts;
    double inverse_mid = 0.0;
    for (auto const& run : runs) {
      auto const a = detail::crossing(run, from), b = detail::crossing(run, alpha[k]);
      if (!a.found || !b.found || !(b.of(run.time) > a.of(run.time))) continue;
      parts.push_back(detail::stretch(run, a, b));
      inverse_mid += parts.back().inverse_T.back();
    }
    auto const n = parts.size();
    if (n < 3) {
      out.E.push_back(none), out.low.push_back(none), out.high.push_back(none);
      continue;
    }
    inverse_mid /= static_cast<double>(n);
    std::vector<double> J(n);
    auto const ratios = [&](double E, auto const& term) {
      for (std::size_t i = 0; i < n; ++i) J[i] = parts[i].integral(E, inverse_mid);
      double sum = 0.0;
      for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
          if (i != j) sum += term(J[i] / J[j]);
        }
      }
      return sum;
    };
    auto const spread = [&](double E) { return ratios(E, [](double r) { return r; }); };
    auto const variance = [&](double E) {
      auto const pairs = static_cast<double>(n * (n - 1));
      return ratios(E, [](double r) { return (r - 1.0) * (r - 1.0); }) / pairs;
    };
    double const lowest = 1e3, highest = 1e6;
    std::uintmax_t tries = 200;
    double const E =
        boost::math::tools::brent_find_minima(spread, lowest, highest, 40, tries).first;
    auto const freedom = static_cast<double>(n - 1);
    double const limit =
        variance(E) * boost::math::quantile(boost::math::fisher_f(freedom, freedom), confidence);
    auto const side = [&](double end) {
      auto const over = [&](double e) { return variance(e) - limit; };
      if (!(over(end) > 0.0)) return end;
      double const at_E = over(E);
      if (!(at_E < 0.0)) return E;  // the runs agree to round-off
      std::uintmax_t steps = 100;
      auto const close = [](double a, double b) { return std::abs(a - b) < 1e-3; };
      auto const lo = std::min(E, end), hi = std::max(E, end);
      auto const r =
          boost::math::tools::toms748_solve(over, lo, hi, over(lo), over(hi), close, steps);
      return 0.5 * (r.first + r.second);
    };
    out.E.push_back(E);
    out.low.push_back(side(lowest));
    out.high.push_back(side(highest));
  }
  return out;
}

}  // namespace cure::fit
