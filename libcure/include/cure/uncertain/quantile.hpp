#pragma once
/// Quantiles of samples, each on its conservative side.
///
/// The quantile of a sample is itself an estimate. Its upper confidence bound needs no form of the
/// distribution: the k-th smallest of n samples lies above the p-quantile with the probability that
/// at most k - 1 of them lie below it, a binomial sum (W.J. Conover, Practical Nonparametric
/// Statistics, tolerance limits; from memory).

#include <Eigen/Core>
#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"

namespace cure::uncertain {

/// Confidence that a bound holds for its quantile [-].
inline constexpr double confidence = 0.95;

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
inline void sort(std::vector<double>& values) {
  if (values.empty()) throw InputError("values", "none", "at least one");
  auto const nan = std::find_if(values.begin(), values.end(), [](double v) { return v != v; });
  if (nan != values.end()) {
    throw InputError("values[" + std::to_string(nan - values.begin()) + "]", "NaN",
                     "a number, infinite for never");
  }
  std::sort(values.begin(), values.end());
}

}  // namespace detail

/// @throws InputError, like all that follows, for no values and for NaN
inline Band band(std::vector<double> values, bool up) {
  detail::sort(values);
  return {quantile(values, 0.05, up), quantile(values, 0.5, up), quantile(values, 0.95, up)};
}

/// Number, from 1, of the ordered sample that bounds the p-quantile from above with `confidence`;
/// nothing when there are too few samples for any to do so.
inline std::optional<std::size_t> bounding_rank(std::size_t samples, double p) {
  if (samples == 0) return std::nullopt;
  boost::math::binomial_distribution<double> const below(static_cast<double>(samples), p);
  auto const holds = [&](std::size_t k) {
    return boost::math::cdf(below, static_cast<double>(k - 1)) >= confidence;
  };
  if (!holds(samples)) return std::nullopt;
  std::size_t low = 0, high = samples;  // high holds
  while (high - low > 1) {
    std::size_t const middle = low + (high - low) / 2;
    (holds(middle) ? high : low) = middle;
  }
  return high;
}

/// The conservative side of a quantity, from samples of it.
struct Side {
  double estimate = 0.0;  ///< the quantile of the samples
  double bound = 0.0;     ///< its confidence bound; the outermost sample where they are too few
  bool covered = false;   ///< whether the samples were enough for the bound
};

/// Upper side at a share p.
inline Side upper_side(std::vector<double> values, double p) {
  detail::sort(values);
  auto const rank = bounding_rank(values.size(), p);
  double const estimate = quantile(values, p, true);
  return {estimate, std::max(estimate, rank ? values[*rank - 1] : values.back()), rank.has_value()};
}

/// Lower side, below which a share 1 - p lies.
inline Side lower_side(std::vector<double> values, double p) {
  for (double& v : values) v = -v;
  auto const side = upper_side(std::move(values), p);
  return {-side.estimate, -side.bound, side.covered};
}

// The same of a column, such as one of an ensemble's outcomes.
template <class Values>
std::vector<double> copied(Eigen::DenseBase<Values> const& v) {
  return {v.begin(), v.end()};
}
template <class Values>
Band band(Eigen::DenseBase<Values> const& values, bool up) {
  return band(copied(values), up);
}
template <class Values>
Side upper_side(Eigen::DenseBase<Values> const& values, double p) {
  return upper_side(copied(values), p);
}
template <class Values>
Side lower_side(Eigen::DenseBase<Values> const& values, double p) {
  return lower_side(copied(values), p);
}

}  // namespace cure::uncertain
