#include "cure/numerics/tridiagonal.hpp"

#include "cure/numerics/symmetric_tridiagonal.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <functional>
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
      std::size_t const n = 19 * m;  // some of them side by side, and some that are left over
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

using SystemOn = std::function<SymmetricTridiagonal(std::size_t cells)>;

/// By each set of instructions that this machine has.
std::vector<SystemOn> every_system() {
  std::vector<SystemOn> systems;
  for (auto const i : {Instructions::baseline, Instructions::avx2, Instructions::avx512}) {
    if (!compiled_vector_kernels().supports(i)) continue;
    systems.emplace_back(
        [i](std::size_t cells) { return SymmetricTridiagonal(cells, vector_kernels(i)); });
  }
  return systems;
}

TEST(SymmetricTridiagonal, SolvesRowsOfEveryLength) {
  for (auto const& system_of : every_system()) {
    std::vector<std::size_t> lengths{200, 601};
    for (std::size_t n = 1; n <= 40; ++n) lengths.push_back(n);
    for (auto const n : lengths) {
      auto const excess = wave(n, 1.5, 0.7), link = wave(n - 1, 2.0, 1.3), C = wave(n, 3.0, 0.9);
      auto const x = wave(n, 0.2, 2.1);
      std::vector<std::size_t> next;
      for (std::size_t c = 0; c + 1 < n; ++c) next.push_back(c + 1);
      auto system = system_of(n);
      system.set(C, link);
      ASSERT_TRUE(system.factorise(excess, 0.0));
      auto r = times(excess, link, next, x);
      for (std::size_t c = 0; c < n; ++c) r[c] /= C[c];
      system.solve(r);
      for (std::size_t c = 0; c < n; ++c) EXPECT_NEAR(r[c], x[c], 1e-13) << n;
    }
  }
}

// Links from 1e-18 to 1e6 of the excesses: in the first instants of a job, and in its last hours.
TEST(SymmetricTridiagonal, SolvesLongRowsWithAnyLinks) {
  for (auto const& system_of : every_system()) {
    for (double const scale : {1e-18, 1e-6, 1e-3, 1.0, 1e3, 1e6}) {
      std::size_t const n = 2048;
      auto const excess = wave(n, 1.5, 0.7), C = wave(n, 3.0, 0.9), x = wave(n, 2.0, 0.01);
      auto link = wave(n - 1, 2.0, 1.3);
      std::vector<std::size_t> next;
      for (std::size_t c = 0; c + 1 < n; ++c) {
        link[c] *= scale;
        next.push_back(c + 1);
      }
      auto system = system_of(n);
      system.set(C, link);
      ASSERT_TRUE(system.factorise(excess, 0.0)) << scale;
      auto r = times(excess, link, next, x);
      for (std::size_t c = 0; c < n; ++c) r[c] /= C[c];
      system.solve(r);
      for (std::size_t c = 0; c < n; ++c) EXPECT_NEAR(r[c], x[c], 1e-13 * (1.0 + scale)) << scale;
    }
  }
}

TEST(SymmetricTridiagonal, RefusesASmallPivotAnywhere) {
  for (auto const& system_of : every_system()) {
    for (std::size_t n : {4U, 30U}) {
      std::vector<double> const link(n - 1, 0.1), C(n, 2.0);
      auto system = system_of(n);
      system.set(C, link);
      for (std::size_t bad = 0; bad < n; ++bad) {
        std::vector<double> excess(n, 1.0);
        EXPECT_TRUE(system.factorise(excess, 0.3));
        excess[bad] = 0.25;  // with its links at most 0.45, less than 0.3 C
        EXPECT_FALSE(system.factorise(excess, 0.3)) << bad;
        excess[bad] = -3.0;
        EXPECT_FALSE(system.factorise(excess, 1e-9)) << bad;
      }
    }
  }
}

// Cells that hardly lose anything: the sum of all equations gives the exact mean,
// sum r / sum excess, with an error that a subtraction of 1 - 1 would lift to 1e-16/1e-12.
TEST(SymmetricTridiagonal, LosesNoDigitsWhenTheExcessesAreTiny) {
  std::size_t const n = 80;
  std::vector<double> const excess(n, 1e-12), link(n - 1, 1.0), C(n, 1.0);
  for (auto const& system_of : every_system()) {
    std::vector<double> x(n, 0.0);
    x[17] = 1.0;
    auto system = system_of(n);
    system.set(C, link);
    ASSERT_TRUE(system.factorise(excess, 0.0));
    system.solve(x);
    double sum = 0.0;
    for (double const v : x) sum += v;
    EXPECT_NEAR(sum * 1e-12, 1.0, 1e-13);
  }
}

}  // namespace
}  // namespace cure::numerics
