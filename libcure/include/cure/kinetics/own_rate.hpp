#pragma once
/// A rate law of a user's own, without a change to the library: a formula in T and alpha, or a
/// table. The solver calls it point by point, so a law that many need is quicker in the registry
/// (rate_law.hpp). Of these a document may
/// hold a table ("law": "tabulated"); fits do not fit them.
///
///     auto const law = kinetics::own_rate([](auto const& T, auto const& alpha) {
///       return 2e5 * exp(-55e3 / (gas_constant * T)) * pow(1.0 - alpha, 1.3);
///     });
///     resin.rate = law;   // wherever a scheme is taken
///
/// The formula holds wherever a step may try it: also a little below alpha = 0 and above 1.

#include <algorithm>
#include <cmath>
#include <concepts>
#include <cstddef>
#include <functional>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/range.hpp"
#include "cure/scalar.hpp"

namespace cure::kinetics {

template <class Parameter>
struct OwnRate {
  /// d(alpha)/dt [1/s] at T [K] and alpha, with its derivatives.
  std::function<Partial<double>(double T, double alpha)> law;
  double factor = 1.0;  ///< of the rate, see faster()

  /// Whether two formulas are the same nobody can tell, so they count as different.
  bool operator==(OwnRate const&) const { return false; }

  template <class Scalar>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha) const {
    double const T0 = value_of(T), alpha0 = value_of(alpha);
    auto const p = law(T0, alpha0);
    // To first order, which is all that a number with derivatives carries.
    Scalar const value = Scalar(factor * p.value) + factor * p.dT * (T - Scalar(T0)) +
                         factor * p.dalpha * (alpha - Scalar(alpha0));
    return {value, Scalar(factor * p.dT), Scalar(factor * p.dalpha)};
  }
};

/// What own_rate takes: a formula for numbers that carry derivatives.
template <class F>
concept RateFormula = requires(F const& f, Dual<2> const& x) {
  { f(x, x) } -> std::convertible_to<Dual<2>>;
};

/// A formula as a law; its derivatives are exact.
template <RateFormula F>
OwnRate<double> own_rate(F formula) {
  return {[formula = std::move(formula)](double T, double alpha) {
    Dual<2> const r = formula(Dual<2>::variable(T, 0), Dual<2>::variable(alpha, 1));
    return Partial<double>{r.value, r.derivative[0], r.derivative[1]};
  }};
}

/// A table as a law: straight in alpha; between two temperatures as Arrhenius has it, the logarithm
/// of the rate over 1/T (straight in T where one of the two is 0). Below the first degree of cure
/// and above the last the rate is that at the end.
/// @param T two or more, rising [K], @param alpha two or more, rising from 0
/// @param rate (temperatures x degrees of cure), row by row [1/s]; 0 at the last degree of cure,
/// where cure ends
/// @throws InputError for another table; the law itself for a temperature outside it
inline OwnRate<double> tabulated_rate(std::vector<double> T, std::vector<double> alpha,
                                      std::vector<double> rate) {
  auto const rises = [](std::vector<double> const& x) {
    return x.size() >= 2 &&
           std::all_of(x.begin(), x.end(), [](double v) { return std::isfinite(v); }) &&
           std::adjacent_find(x.begin(), x.end(), std::greater_equal()) == x.end();
  };
  if (!rises(T) || !(T.front() > 0.0)) {
    throw InputError("T", std::to_string(T.size()) + " temperatures",
                     "two or more, rising, above 0 K");
  }
  if (!rises(alpha) || alpha.front() != 0.0 || alpha.back() > 1.0) {
    throw InputError("alpha", std::to_string(alpha.size()) + " degrees of cure",
                     "two or more, rising from 0 to at most 1");
  }
  auto const n = alpha.size();
  if (rate.size() != T.size() * n) {
    throw InputError("rate", std::to_string(rate.size()) + " numbers",
                     std::to_string(T.size() * n) + ", one a temperature and degree of cure");
  }
  for (std::size_t i = 0; i < rate.size(); ++i) {
    bool const last = i % n == n - 1;
    if (!std::isfinite(rate[i]) || rate[i] < 0.0 || (last && rate[i] != 0.0)) {
      throw InputError("rate[" + std::to_string(i) + "]", shown(rate[i]) + " 1/s",
                       last ? "0, where cure ends" : "0 or more");
    }
  }
  return {
      [T = std::move(T), alpha = std::move(alpha), rate = std::move(rate), n](double t, double a) {
        if (!(t >= T.front() && t <= T.back())) {
          throw InputError("temperature of a tabulated rate", shown(t) + " K",
                           Range{.low = T.front(), .high = T.back()}.text() + " K");
        }
        auto const segment = [](std::vector<double> const& x, double at) {
          auto const above = std::upper_bound(x.begin() + 1, x.end() - 1, at);
          return static_cast<std::size_t>(above - x.begin()) - 1;
        };
        auto const i = segment(T, t), j = segment(alpha, a);
        // At a degree of cure of the table: the rate, and its slope with T.
        auto const along = [&](std::size_t k) -> std::pair<double, double> {
          double const low = rate[i * n + k], high = rate[(i + 1) * n + k];
          if (low > 0.0 && high > 0.0) {
            double const over = 1.0 / T[i] - 1.0 / T[i + 1], ratio = std::log(high / low);
            double const f = low * std::exp(ratio * (1.0 / T[i] - 1.0 / t) / over);
            return {f, f * ratio / (over * t * t)};
          }
          double const slope = (high - low) / (T[i + 1] - T[i]);
          return {low + slope * (t - T[i]), slope};
        };
        auto const [f0, s0] = along(j);
        auto const [f1, s1] = along(j + 1);
        double const width = alpha[j + 1] - alpha[j], x = (a - alpha[j]) / width;
        if (x <= 0.0) return Partial<double>{f0, s0, 0.0};
        if (x >= 1.0) return Partial<double>{f1, s1, 0.0};
        return Partial<double>{f0 + x * (f1 - f0), s0 + x * (s1 - s0), (f1 - f0) / width};
      }};
}

}  // namespace cure::kinetics
