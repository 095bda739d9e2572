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
    for (std::size_t first = 0; first < n; first += m) {
      double* __restrict const pivot = pivot_.data() + first;
      double* __restrict const multiplier = multiplier_.data() + first;
      double const* const own = diagonal.data() + first;
      bool const last = first + m >= n;
      for (std::size_t j = 0; j < m; ++j) pivot[j] = own[j] + (last ? 0.0 : link[first + j]);
      if (first > 0) {
        double const *const g = link.data() + first - m, *const before = multiplier - m;
        for (std::size_t j = 0; j < m; ++j) pivot[j] += g[j] - g[j] * before[j];
      }
      double const* const floor = least.data() + first;
      for (std::size_t j = 0; j < m; ++j) good &= pivot[j] > floor[j];
      for (std::size_t j = 0; j < m; ++j) {
        pivot[j] = 1.0 / pivot[j];
        multiplier[j] = last ? 0.0 : link[first + j] * pivot[j];
      }
    }
    return good;
  }

  void solve(std::span<double> x) const {
    auto const m = columns_, n = pivot_.size();
    for (std::size_t first = 0; first + m < n; first += m) {
      double const *const at = x.data() + first, *const w = multiplier_.data() + first;
      double* __restrict const next = x.data() + first + m;
      for (std::size_t j = 0; j < m; ++j) next[j] += w[j] * at[j];
    }
    for (std::size_t c = n - m; c < n; ++c) x[c] *= pivot_[c];
    for (std::size_t first = n - m; first > 0;) {
      double const* const next = x.data() + first;
      first -= m;
      double const *const p = pivot_.data() + first, *const w = multiplier_.data() + first;
      double* __restrict const at = x.data() + first;
      for (std::size_t j = 0; j < m; ++j) at[j] = at[j] * p[j] + w[j] * next[j];
    }
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
    by_rows(n / m, [&]<std::size_t R>(std::size_t from) {
      double const *const own = diagonal.data() + from, *const g = link.data() + from;
      double *const pivot = pivot_.data() + from, *const multiplier = multiplier_.data() + from;
      double before[R] = {};  // multiplier, and link
      double link_before[R] = {};
      for (std::size_t j = 0; j < m; ++j) {
        for (std::size_t r = 0; r < R; ++r) {
          auto const c = r * m + j;
          double const out = j + 1 < m ? g[c] : 0.0;
          double const inverse =
              1.0 / (own[c] + out + (link_before[r] - link_before[r] * before[r]));
          pivot[c] = inverse;
          multiplier[c] = before[r] = out * inverse;
          link_before[r] = out;
        }
      }
    });
    if (!closed_) return;
    closing_.assign(n, 0.0);
    for (std::size_t from = 0; from < n; from += m) {
      closing_[from] = 1.0;
      closing_[from + m - 1] = -1.0;
    }
    solve_open(closing_);
    gain_.resize(n / m);
    for (std::size_t from = 0; from < n; from += m) {
      double const g = link[from + m - 1];
      gain_[from / m] = g / (1.0 + g * (closing_[from] - closing_[from + m - 1]));
    }
  }

  void solve(std::span<double> x) const {
    solve_open(x);
    if (!closed_) return;
    auto const m = columns_;
    for (std::size_t from = 0; from < pivot_.size(); from += m) {
      auto const row = x.subspan(from, m);
      double const jump = gain_[from / m] * (row[0] - row[m - 1]);
      for (std::size_t j = 0; j < m; ++j) row[j] -= jump * closing_[from + j];
    }
  }

 private:
  /// Rows side by side: in a row each cell waits for the one before it.
  template <class Rows>
  void by_rows(std::size_t rows, Rows const& some) const {
    std::size_t i = 0;
    for (; i + 8 <= rows; i += 8) some.template operator()<8>(i * columns_);
    for (; i < rows; ++i) some.template operator()<1>(i * columns_);
  }

  void solve_open(std::span<double> x) const {
    auto const m = columns_;
    by_rows(pivot_.size() / m, [&]<std::size_t R>(std::size_t from) {
      double const *const pivot = pivot_.data() + from, *const w = multiplier_.data() + from;
      double* const at = x.data() + from;
      double carried[R];
      for (std::size_t r = 0; r < R; ++r) carried[r] = at[r * m];
      for (std::size_t j = 0; j + 1 < m; ++j) {
        for (std::size_t r = 0; r < R; ++r) {
          auto const c = r * m + j;
          at[c + 1] = carried[r] = at[c + 1] + w[c] * carried[r];
        }
      }
      for (std::size_t r = 0; r < R; ++r) {
        auto const c = r * m + m - 1;
        at[c] = carried[r] = carried[r] * pivot[c];
      }
      for (std::size_t j = m - 1; j-- > 0;) {
        for (std::size_t r = 0; r < R; ++r) {
          auto const c = r * m + j;
          at[c] = carried[r] = at[c] * pivot[c] + w[c] * carried[r];
        }
      }
    });
  }

  std::size_t columns_;
  bool closed_;
  std::vector<double> pivot_, multiplier_;
  std::vector<double> closing_, gain_;
};

}  // namespace cure::numerics
