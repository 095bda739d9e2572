#pragma once
/// Quantiles of samples, each on its conservative side.
///
/// The quantile of a sample is itself an estimate. Its upper confidence bound needs no form of the
/// distribution: the k-th smallest of n samples lies above the p-quantile with the probability that
/// at most k - 1 of them lie below it, a binomial sum (W.J. Conover, Practical Nonparametric
/// Statistics, tolerance limits; from memory).

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/error.hpp"

#if CURE_INSIDE
#include <boost/math/distributions/binomial.hpp>
#endif

namespace cure::uncertain {

/// Confidence that a bound holds for its quantile [-].
inline constexpr double confidence = 0.95;

/// Share of samples that a side covers [-].
inline constexpr double side_share = 0.95;

/// 5, 50 and 95 % of a quantity; an infinite time is never.
struct Band {
  double p5 = 0.0, p50 = 0.0, p95 = 0.0;
};

/// The sample at the place of a share p among sorted samples, or the next one to the given side.
inline double quantile(std::vector<double> const& sorted, double p, bool up) {
  double const place = p * static_cast<double>(sorted.size() - 1);
  // A place that is whole up to round-off is that sample.
  double const index = up ? std::ceil(place - 1e-9) : std::floor(place + 1e-9);
  return sorted[static_cast<std::size_t>(index)];
}

namespace detail {

/// @throws InputError for no values, or one that has no place among the others
inline void check(std::vector<double> const& values) {
  if (values.empty()) throw InputError("values", "none", "at least one");
  auto const nan = std::find_if(values.begin(), values.end(), [](double v) { return v != v; });
  if (nan != values.end()) {
    throw InputError("values[" + std::to_string(nan - values.begin()) + "]", "NaN",
                     "a number, infinite for never");
  }
}

inline void sort(std::vector<double>& values) {
  check(values);
  std::sort(values.begin(), values.end());
}

}  // namespace detail

/// @throws InputError, like all that follows, for no values and for NaN
inline Band band(std::vector<double> values, bool up) {
  detail::sort(values);
  return {quantile(values, 0.05, up), quantile(values, 0.5, up), quantile(values, 0.95, up)};
}

/// Number, from 1, of the ordered sample that bounds the p-quantile from above; nothing when there
/// are too few samples for any to do so. @param sure how surely it does [-]
CURE_FUNCTION std::optional<std::size_t> bounding_rank(std::size_t samples, double p,
                                                       double sure = confidence);
#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION std::optional<std::size_t> bounding_rank(std::size_t samples, double p, double sure) {
  if (samples == 0) return std::nullopt;
  boost::math::binomial_distribution<double> const below(static_cast<double>(samples), p);
  auto const holds = [&](std::size_t k) {
    return boost::math::cdf(below, static_cast<double>(k - 1)) >= sure;
  };
  if (!holds(samples)) return std::nullopt;
  std::size_t low = 0, high = samples;  // high holds
  while (high - low > 1) {
    std::size_t const middle = low + (high - low) / 2;
    (holds(middle) ? high : low) = middle;
  }
  return high;
}
#endif

/// The conservative side of a quantity, from samples of it.
struct Side {
  double estimate = 0.0;  ///< the quantile of the samples
  double bound = 0.0;     ///< its confidence bound; the outermost sample where they are too few
  bool covered = false;   ///< whether the samples were enough for the bound
};

/// Upper side at a share p.
inline Side upper_side(std::vector<double> values, double p, double sure = confidence) {
  detail::sort(values);
  auto const rank = bounding_rank(values.size(), p, sure);
  double const estimate = quantile(values, p, true);
  return {estimate, std::max(estimate, rank ? values[*rank - 1] : values.back()), rank.has_value()};
}

/// Lower side, below which a share 1 - p lies.
inline Side lower_side(std::vector<double> values, double p, double sure = confidence) {
  for (double& v : values) v = -v;
  auto const side = upper_side(std::move(values), p, sure);
  return {-side.estimate, -side.bound, side.covered};
}

// Quantiles of a column, such as one of an ensemble's outcomes.
template <class Values>
concept Column = requires(Values const& v) {
  std::vector<double>(v.begin(), v.end());
};
template <Column Values>
std::vector<double> copied(Values const& v) {
  return {v.begin(), v.end()};
}
template <Column Values>
Band band(Values const& values, bool up) {
  return band(copied(values), up);
}
template <Column Values>
Side upper_side(Values const& values, double p, double sure = confidence) {
  return upper_side(copied(values), p, sure);
}
template <Column Values>
Side lower_side(Values const& values, double p, double sure = confidence) {
  return lower_side(copied(values), p, sure);
}

/// Values in order with the sum of the weights up to each: rows that count for more or less.
class WeightedValues {
 public:
  /// @param values infinite ones sort last. @param weights of each, adding to 1
  /// @throws InputError for no values, for NaN, and for weights that are not as many
  template <Column Values, Column Weights>
  WeightedValues(Values const& values, Weights const& weights) {
    auto const x = copied(values), w = copied(weights);
    detail::check(x);
    if (w.size() != x.size()) {
      throw InputError("weights", std::to_string(w.size()),
                       "as many as values, " + std::to_string(x.size()));
    }
    for (std::size_t i = 0; i < x.size(); ++i) sorted_.emplace_back(x[i], w[i]);
    std::stable_sort(sorted_.begin(), sorted_.end(),
                     [](auto const& a, auto const& b) { return a.first < b.first; });
    double sum = 0.0;
    for (auto& [value, share] : sorted_) share = sum += share;
  }

  /// One of the values at a share p, the next one to the given side.
  [[nodiscard]] double quantile(double p, bool up) const {
    double const wanted = up ? p - 1e-9 : p + 1e-9;
    auto const found = std::find_if(sorted_.begin(), sorted_.end(), [&](auto const& s) {
      return up ? s.second >= wanted : s.second > wanted;
    });
    auto i = static_cast<std::size_t>(found - sorted_.begin());
    // From one half on a low side is the value that the share falls on, not the one before it.
    if (!up && p < 0.5 && i > 0) --i;
    return sorted_[std::min(i, sorted_.size() - 1)].first;
  }
  [[nodiscard]] Band band(bool up) const {
    return {quantile(0.05, up), quantile(0.5, up), quantile(0.95, up)};
  }

 private:
  std::vector<std::pair<double, double>> sorted_;
};

}  // namespace cure::uncertain
