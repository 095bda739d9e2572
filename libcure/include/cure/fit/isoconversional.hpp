#pragma once
/// The advanced isoconversional method; formula and sources in model_free.hpp.

#include "cure/fit/model_free.hpp"

namespace cure::fit {

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
