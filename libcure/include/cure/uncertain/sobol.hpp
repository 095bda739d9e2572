#pragma once
/// Scrambled Sobol' points.
///
/// Sobol' (USSR Comput. Math. Math. Phys. 7, 86, 1967), scrambled by a linear matrix and a digital
/// shift (J. Matousek, J. Complexity 14, 527, 1998). The same seed gives the same points to the
/// bit on every machine, and fewer points or dimensions are the first of more.

#include <Eigen/Core>
#include <cstddef>
#include <cstdint>
#include <random>
#include <vector>

#include "cure/arithmetic.hpp"
#include "cure/compiled.hpp"

#if CURE_INSIDE
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

}  // namespace cure::uncertain
