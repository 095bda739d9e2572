#pragma once
/// The standard normal distribution.

#include <cmath>
#include <numbers>

#include "cure/compiled.hpp"

#if CURE_DEFINES(ENSEMBLE)
#include <boost/math/special_functions/erf.hpp>
#endif

namespace cure::uncertain {

/// Share of standard normal numbers below x.
inline double normal_probability(double x) { return 0.5 * std::erfc(-x / std::numbers::sqrt2); }

/// Standard normal number below which a share p lies, p inside (0, 1).
CURE_FUNCTION double normal_quantile(double p);
#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION double normal_quantile(double p) {
  return -std::numbers::sqrt2 * boost::math::erfc_inv(2.0 * p);
}
#endif

}  // namespace cure::uncertain
