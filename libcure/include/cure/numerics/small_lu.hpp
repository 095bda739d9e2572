#pragma once
/// LU factors of (d - J) for a handful of states, without pivoting: in a linearly implicit step d
/// is large against J, and a pivot that is not says that the step is too long.

#include <array>
#include <cstddef>

#include "cure/numerics/step_size.hpp"

namespace cure::numerics {

template <std::size_t Most>
class SmallLu {
 public:
  using Vector = std::array<double, Most>;
  using Matrix = std::array<Vector, Most>;

  /// Factorises d - J over the first n states. @returns false when a pivot is too small
  [[nodiscard]] bool factorise(double d, Matrix const& J, std::size_t n) {
    n_ = n;
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t k = 0; k < n; ++k) lu_[i][k] = (i == k ? d : 0.0) - J[i][k];
    }
    for (std::size_t i = 0; i < n; ++i) {
      if (!(lu_[i][i] > least_cell_pivot * d)) return false;
      for (std::size_t r = i + 1; r < n; ++r) {
        double const l = lu_[r][i] /= lu_[i][i];
        for (std::size_t k = i + 1; k < n; ++k) lu_[r][k] -= l * lu_[i][k];
      }
    }
    return true;
  }

  [[nodiscard]] Vector solve(Vector x) const {
    for (std::size_t i = 0; i < n_; ++i) {
      for (std::size_t k = 0; k < i; ++k) x[i] -= lu_[i][k] * x[k];
    }
    for (std::size_t i = n_; i-- > 0;) {
      for (std::size_t k = i + 1; k < n_; ++k) x[i] -= lu_[i][k] * x[k];
      x[i] /= lu_[i][i];
    }
    return x;
  }

 private:
  Matrix lu_{};
  std::size_t n_ = 0;
};

}  // namespace cure::numerics
