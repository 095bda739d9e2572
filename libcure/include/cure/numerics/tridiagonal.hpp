#pragma once
/// Many symmetric tridiagonal systems on one grid of cells, cell (i, j) = i * columns + j: one for
/// each column, or one for each row. Each is diagonal + links, where a link g between two cells
/// adds g to both their diagonals and -g off them, as a conductance does. Factorised without
/// pivoting (Thomas), which is stable for positive links and pivots.

#include <cstddef>
#include <span>
#include <vector>

#include "cure/arithmetic.hpp"

namespace cure::numerics {

/// One system for each column; the sweeps run over all columns at once.
class ColumnSystems {
 public:
  explicit ColumnSystems(std::size_t columns = 1) : columns_(columns) {}

  /// @param diagonal of each cell, without its links
  /// @param link from cell c to c + columns, for all but the last row
  /// @param least smallest pivot allowed for each cell
  /// @returns false when a pivot is not above it
  [[nodiscard]] bool factorise(std::span<double const> diagonal, std::span<double const> link,
                               std::span<double const> least) {
    auto const m = columns_, n = diagonal.size();
    pivot_.resize(n);
    multiplier_.resize(n);
    bool good = true;
    for (std::size_t c = 0; c < n; ++c) {
      double pivot = diagonal[c];
      if (c + m < n) pivot += link[c];
      if (c >= m) pivot += link[c - m] - link[c - m] * multiplier_[c - m];
      good = good && pivot > least[c];
      pivot_[c] = 1.0 / pivot;
      multiplier_[c] = c + m < n ? link[c] * pivot_[c] : 0.0;
    }
    return good;
  }

  void solve(std::span<double> x) const {
    auto const m = columns_, n = pivot_.size();
    for (std::size_t c = 0; c + m < n; ++c) x[c + m] += multiplier_[c] * x[c];
    for (std::size_t c = n - m; c < n; ++c) x[c] *= pivot_[c];
    for (std::size_t c = n - m; c-- > 0;) x[c] = x[c] * pivot_[c] + multiplier_[c] * x[c + m];
  }

 private:
  std::size_t columns_;
  std::vector<double> pivot_, multiplier_;
};

/// One system for each row. A closed row has a link from its last cell to its first, which is a
/// rank-one addition to the open row (J. Sherman, W.J. Morrison, Ann. Math. Stat. 21, 124, 1950).
class RowSystems {
 public:
  RowSystems(std::size_t columns, bool closed)
      : columns_(columns), closed_(closed && columns > 1) {}

  /// @param diagonal of each cell, above 0, without its links
  /// @param link from each cell to the next in its row; that of the last cell to the first
  void factorise(std::span<double const> diagonal, std::span<double const> link) {
    auto const m = columns_, n = diagonal.size();
    pivot_.resize(n);
    multiplier_.resize(n);
    for (std::size_t c = 0; c < n; ++c) {
      bool const first = c % m == 0, last = c % m + 1 == m;
      double pivot = diagonal[c];
      if (!last) pivot += link[c];
      if (!first) pivot += link[c - 1] - link[c - 1] * multiplier_[c - 1];
      pivot_[c] = 1.0 / pivot;
      multiplier_[c] = last ? 0.0 : link[c] * pivot_[c];
    }
    if (!closed_) return;
    closing_.assign(n, 0.0);
    gain_.resize(n / m);
    for (std::size_t from = 0; from < n; from += m) {
      auto const z = std::span(closing_).subspan(from, m);
      z[0] = 1.0;
      z[m - 1] = -1.0;
      solve_open(z, from);
      double const g = link[from + m - 1];
      gain_[from / m] = g / (1.0 + g * (z[0] - z[m - 1]));
    }
  }

  void solve(std::span<double> x) const {
    auto const m = columns_;
    for (std::size_t from = 0; from < pivot_.size(); from += m) {
      auto const row = x.subspan(from, m);
      solve_open(row, from);
      if (!closed_) continue;
      double const jump = gain_[from / m] * (row[0] - row[m - 1]);
      for (std::size_t j = 0; j < m; ++j) row[j] -= jump * closing_[from + j];
    }
  }

 private:
  void solve_open(std::span<double> x, std::size_t from) const {
    auto const m = x.size();
    for (std::size_t j = 0; j + 1 < m; ++j) x[j + 1] += multiplier_[from + j] * x[j];
    x[m - 1] *= pivot_[from + m - 1];
    for (std::size_t j = m - 1; j-- > 0;) {
      x[j] = x[j] * pivot_[from + j] + multiplier_[from + j] * x[j + 1];
    }
  }

  std::size_t columns_;
  bool closed_;
  std::vector<double> pivot_, multiplier_;
  std::vector<double> closing_, gain_;
};

}  // namespace cure::numerics
