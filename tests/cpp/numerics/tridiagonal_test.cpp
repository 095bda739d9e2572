#include "cure/numerics/tridiagonal.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <vector>

namespace cure::numerics {
namespace {

std::vector<double> wave(std::size_t n, double offset, double pace) {
  std::vector<double> v(n);
  for (std::size_t i = 0; i < n; ++i) v[i] = offset + std::sin(pace * static_cast<double>(i));
  return v;
}

/// The systems multiplied out from their definition: diagonal + links.
std::vector<double> times(std::vector<double> const& diagonal, std::vector<double> const& link,
                          std::vector<std::size_t> const& next, std::vector<double> const& x) {
  std::vector<double> b(x.size());
  for (std::size_t c = 0; c < x.size(); ++c) b[c] += diagonal[c] * x[c];
  for (std::size_t c = 0; c < link.size(); ++c) {
    double const q = link[c] * (x[c] - x[next[c]]);
    b[c] += q;
    b[next[c]] -= q;
  }
  return b;
}

TEST(Tridiagonal, SolvesAllColumnsOfAGrid) {
  for (std::size_t const m : {1U, 3U, 7U}) {
    std::size_t const n = 5 * m;
    auto const diagonal = wave(n, 1.5, 0.7), link = wave(n - m, 2.0, 1.3), x = wave(n, 0.2, 2.1);
    std::vector<std::size_t> next;
    for (std::size_t c = 0; c < n - m; ++c) next.push_back(c + m);
    ColumnSystems systems(m);
    ASSERT_TRUE(systems.factorise(diagonal, link, std::vector<double>(n, 0.0)));
    auto b = times(diagonal, link, next, x);
    systems.solve(b);
    for (std::size_t c = 0; c < n; ++c) EXPECT_NEAR(b[c], x[c], 1e-13);
  }
}

TEST(Tridiagonal, RefusesASmallPivotAnywhere) {
  std::vector<double> diagonal(6, 1.0);
  std::vector<double> const link(4, 0.1), least(6, 0.5);
  ColumnSystems systems(2);
  EXPECT_TRUE(systems.factorise(diagonal, link, least));
  diagonal[3] = 0.2;
  EXPECT_FALSE(systems.factorise(diagonal, link, least));
}

TEST(Tridiagonal, SolvesOpenAndClosedRows) {
  for (std::size_t const m : {1U, 2U, 6U}) {
    for (bool const closed : {false, true}) {
      std::size_t const n = 4 * m;
      auto const diagonal = wave(n, 1.5, 0.7), x = wave(n, 0.2, 2.1);
      auto link = wave(n, 2.0, 1.3);
      std::vector<std::size_t> next;
      for (std::size_t c = 0; c < n; ++c) {
        bool const last = c % m + 1 == m;
        next.push_back(last ? c + 1 - m : c + 1);
        if (last && (!closed || m == 1)) link[c] = 0.0;
      }
      RowSystems systems(m, closed);
      systems.factorise(diagonal, link);
      auto b = times(diagonal, link, next, x);
      systems.solve(b);
      for (std::size_t c = 0; c < n; ++c) EXPECT_NEAR(b[c], x[c], 1e-13) << m << ' ' << closed;
    }
  }
}

}  // namespace
}  // namespace cure::numerics
