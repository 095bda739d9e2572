#pragma once
/// Compresses a least-squares problem of very many residuals to a small one with the same sum of
/// squares, gradient and Gauss-Newton matrix: the triangular factor R of the QR decomposition of
/// [J r] (Householder, rows in blocks; e.g. A. Bjorck, "Numerical Methods for Least Squares
/// Problems", SIAM 1996, sec. 2.4 and 6.2). Condition is that of J, not of J'J.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

namespace cure::fit {

class TallQr {
 public:
  /// @param columns of J and r together
  explicit TallQr(std::size_t columns)
      : columns_(columns), rows_(columns), block_((columns + block_rows) * columns, 0.0) {}

  /// Room for the next row of [J r], to be filled before the next call.
  [[nodiscard]] std::span<double> next_row() {
    if (rows_ == columns_ + block_rows) reduce();
    return std::span(block_).subspan(rows_++ * columns_, columns_);
  }

  /// R, row by row, columns x columns; the last column belongs to r.
  [[nodiscard]] std::vector<double> triangle() {
    reduce();
    return {block_.begin(), block_.begin() + static_cast<std::ptrdiff_t>(columns_ * columns_)};
  }

 private:
  static constexpr std::size_t block_rows = 64;

  void reduce() {
    auto const at = [&](std::size_t i, std::size_t k) -> double& {
      return block_[i * columns_ + k];
    };
    std::vector<double> dot(columns_);
    for (std::size_t k = 0; k < columns_; ++k) {
      // Rows between k and columns_ are zero below the diagonal, or in the first block altogether.
      double square = 0.0;
      for (std::size_t i = columns_; i < rows_; ++i) square += at(i, k) * at(i, k);
      if (!(square > 0.0)) continue;
      double const head = at(k, k);
      double const length = std::sqrt(head * head + square);
      double const v0 = head > 0.0 ? head + length : head - length;
      double const scale = 2.0 / (v0 * v0 + square);
      std::fill(dot.begin(), dot.end(), 0.0);
      for (std::size_t j = k; j < columns_; ++j) dot[j] = v0 * at(k, j);
      for (std::size_t i = columns_; i < rows_; ++i) {
        double const v = at(i, k);
        for (std::size_t j = k; j < columns_; ++j) dot[j] += v * at(i, j);
      }
      for (std::size_t j = k; j < columns_; ++j) at(k, j) -= scale * dot[j] * v0;
      for (std::size_t i = columns_; i < rows_; ++i) {
        double const v = at(i, k);
        for (std::size_t j = k + 1; j < columns_; ++j) at(i, j) -= scale * dot[j] * v;
        at(i, k) = 0.0;
      }
    }
    rows_ = columns_;
  }

  std::size_t columns_, rows_;
  std::vector<double> block_;
};

}  // namespace cure::fit
