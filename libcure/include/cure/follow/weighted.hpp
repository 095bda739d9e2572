#pragma once
/// Rows that together stand for what is known, and quantiles of what they say.

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include "cure/follow/grid.hpp"
#include "cure/uncertain/quantile.hpp"

namespace cure::follow {

/// Middle of some numbers, which are put in order; the mean of the two in the middle.
inline double median(std::vector<double>& v) {
  std::sort(v.begin(), v.end());
  auto const n = v.size();
  return n % 2 == 1 ? v[n / 2] : 0.5 * (v[n / 2 - 1] + v[n / 2]);
}

/// Quantile at a share p between the two values next to it, NaN left out; NaN of none.
/// @param v is put in another order
inline double linear_quantile(std::vector<double>& v, double p) {
  std::erase_if(v, [](double x) { return std::isnan(x); });
  if (v.empty()) return std::numeric_limits<double>::quiet_NaN();
  double const place = p * static_cast<double>(v.size() - 1);
  auto const at = v.begin() + static_cast<std::ptrdiff_t>(place);
  std::nth_element(v.begin(), at, v.end());
  double const low = *at, share = place - std::floor(place);
  if (share == 0.0) return low;
  return low + share * (*std::min_element(at + 1, v.end()) - low);
}

struct Weighted {
  RowMatrix x;             ///< (rows x unknowns and nuisances), standard normal beforehand
  Eigen::VectorXd weight;  ///< adding to 1
  /// Rows of equal weight that would tell as much: 1 / sum w^2 (A. Kong, tech. report 348, Univ.
  /// Chicago, 1992, from memory).
  double effective = 0.0;
};

using uncertain::WeightedValues;

}  // namespace cure::follow
