#pragma once
/// Compresses a least-squares problem of very many residuals to a small one with the same sum of
/// squares, gradient and Gauss-Newton matrix: the triangular factor R of the QR decomposition of
/// [J r] (Householder, rows in blocks; e.g. A. Bjorck, "Numerical Methods for Least Squares
/// Problems", SIAM 1996, sec. 2.4 and 6.2). Condition is that of J, not of J'J.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include "cure/arithmetic.hpp"

namespace cure::fit {

class StreamingQr {
 public:
  /// @param columns of J and r together
  explicit StreamingQr(std::size_t columns)
      : columns_(columns), triangle_(columns * columns, 0.0), block_(columns * block_rows, 0.0) {}

  /// Adds a row of [J r].
  /// @param value called with a column's number, gives the row's entry there
  template <class Value>
  void add_row(Value const& value) {
    if (rows_ == block_rows) reduce();
    for (std::size_t k = 0; k < columns_; ++k) block_[k * block_rows + rows_] = value(k);
    ++rows_;
  }

  /// R, row by row, columns x columns; the last column belongs to r.
  [[nodiscard]] std::vector<double> triangle() {
    reduce();
    return triangle_;
  }

 private:
  static constexpr std::size_t lanes = 8;
  static constexpr std::size_t block_rows = 16 * lanes;

  // Columns of the block are contiguous, and sums go lane by lane: compilers make vectors of it.
  static double dot(double const* x, double const* y) {
    std::array<double, lanes> sum{};
    for (std::size_t i = 0; i < block_rows; i += lanes) {
      for (std::size_t l = 0; l < lanes; ++l) sum[l] += x[i + l] * y[i + l];
    }
    return ((sum[0] + sum[1]) + (sum[2] + sum[3])) + ((sum[4] + sum[5]) + (sum[6] + sum[7]));
  }

  /// Folds the block into the triangle and empties it.
  void reduce() {
    if (rows_ == 0) return;
    for (std::size_t k = 0; k < columns_; ++k) {
      double* const v = &block_[k * block_rows];
      double const square = dot(v, v);
      if (!(square > 0.0)) continue;
      double* const row = &triangle_[k * columns_];
      double const length = std::sqrt(row[k] * row[k] + square);
      double const v0 = row[k] > 0.0 ? row[k] + length : row[k] - length;
      double const scale = 2.0 / (v0 * v0 + square);
      row[k] -= scale * (v0 * row[k] + square) * v0;
      for (std::size_t j = k + 1; j < columns_; ++j) {
        double* const x = &block_[j * block_rows];
        double const part = scale * (v0 * row[j] + dot(v, x));
        row[j] -= part * v0;
        for (std::size_t i = 0; i < block_rows; ++i) x[i] -= part * v[i];
      }
    }
    std::fill(block_.begin(), block_.end(), 0.0);
    rows_ = 0;
  }

  std::size_t columns_, rows_ = 0;
  std::vector<double> triangle_, block_;
};

}  // namespace cure::fit
