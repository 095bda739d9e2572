#pragma once
/// Scrambled Sobol' points and standard normal numbers of them.
///
/// Sobol' (USSR Comput. Math. Math. Phys. 7, 86, 1967), scrambled by a linear matrix and a digital
/// shift (J. Matousek, J. Complexity 14, 527, 1998). The same seed gives the same points to the
/// bit on every machine, and fewer points or dimensions are the first of more.

#include <Eigen/Core>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>
#include <random>
#include <vector>

#include "cure/arithmetic.hpp"
#include "cure/compiled.hpp"

#if CURE_INSIDE
#include <boost/math/special_functions/erf.hpp>
#include <boost/random/sobol.hpp>
#endif

namespace cure::uncertain {

/// Points (samples, dimensions), strictly inside the unit cube.
/// @param samples a power of two keeps the balance of the points
CURE_FUNCTION Eigen::MatrixXd unit_points(std::size_t dimensions, std::size_t samples,
                                          std::uint64_t seed);
#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION Eigen::MatrixXd unit_points(std::size_t dimensions, std::size_t samples,
                                          std::uint64_t seed) {
  constexpr unsigned bits = 30;
  auto const columns = static_cast<Eigen::Index>(dimensions);
  Eigen::MatrixXd points(static_cast<Eigen::Index>(samples), columns);
  if (dimensions == 0 || samples == 0) return points;
  std::mt19937_64 random(seed);
  // By dimension: the shift, then the column of the lower triangular matrix for each bit.
  std::vector<std::uint32_t> shift(dimensions), column(dimensions * bits);
  for (std::size_t d = 0; d < dimensions; ++d) {
    shift[d] = static_cast<std::uint32_t>(random() >> (64 - bits));
    for (unsigned b = 0; b < bits; ++b) {
      std::uint32_t const one = 1u << (bits - 1 - b);
      column[d * bits + b] = one | (static_cast<std::uint32_t>(random() >> 32) & (one - 1));
    }
  }
  // Boost's engine leaves out the first point, which is zero.
  boost::random::sobol_engine<std::uint32_t, bits> engine(dimensions);
  for (Eigen::Index i = 0; i < points.rows(); ++i) {
    for (std::size_t d = 0; d < dimensions; ++d) {
      std::uint32_t const plain = i == 0 ? 0u : engine();
      std::uint32_t x = shift[d];
      for (unsigned b = 0; b < bits; ++b) {
        if ((plain >> (bits - 1 - b) & 1u) != 0) x ^= column[d * bits + b];
      }
      // The middle of the cell that the bits resolve: 0 would be an infinite normal number.
      points(i, static_cast<Eigen::Index>(d)) = (x + 0.5) / static_cast<double>(1u << bits);
    }
  }
  return points;
}
#endif

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
