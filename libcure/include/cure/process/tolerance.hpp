#pragma once
/// How good a step of a wall must be, one case or many.

#include "cure/scalar.hpp"

namespace cure::process {

/// Local error allowed in one step.
struct Tolerance {
  double temperature = 5e-3;  ///< [K]
  double alpha = 5e-6;        ///< over alpha + alpha_floor [-]

  /// Autocatalysis multiplies an early error as it multiplies alpha, so alpha's is relative.
  static constexpr double alpha_floor = 0.01;
  /// How far outside 0 to 1 a degree of cure may be.
  [[nodiscard]] constexpr double alpha_slack() const { return 10.0 * alpha; }
};

}  // namespace cure::process
