#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <string>
#include <vector>

#include "cure/numerics/kernel_choice.hpp"

namespace cure::numerics {
namespace {

std::vector<double> wave(std::size_t n, double pace) {
  std::vector<double> v(n);
  for (std::size_t i = 0; i < n; ++i) v[i] = 0.1 + std::sin(pace * static_cast<double>(i) + 1.0);
  return v;
}

/// Calls check(loops, n) for each set of instructions that this machine has and many lengths, among
/// them those that no pack fills.
template <class Check>
void each(Check const& check) {
  for (auto const i : {Instructions::baseline, Instructions::avx2, Instructions::avx512}) {
    if (!compiled_vector_kernels().supports(i)) continue;
    for (std::size_t n = 1; n < 40; ++n) {
      SCOPED_TRACE(std::string(name(i)) + ", " + std::to_string(n) + " numbers");
      check(vector_kernels(i), n);
    }
  }
}

TEST(VectorKernels, SumWeightedArrays) {
  each([](VectorKernels const& loops, std::size_t n) {
    auto const base = wave(n, 0.3);
    std::vector<std::vector<double>> const arrays{wave(n, 0.7), wave(n, 1.1), wave(n, 1.9),
                                                  wave(n, 2.3)};
    WeightedArrays sum;
    auto expected = base;
    for (std::size_t count = 0; count <= 4; ++count) {
      std::vector<double> x(n);
      loops.combine(x.data(), base.data(), sum, n);
      for (std::size_t i = 0; i < n; ++i) EXPECT_NEAR(x[i], expected[i], 1e-14);
      if (count == 4) break;
      double const w = 0.5 + static_cast<double>(count);
      sum.add(0.0, nullptr);  // weighs nothing, and is not read
      sum.add(w, arrays[count].data());
      for (std::size_t i = 0; i < n; ++i) expected[i] += w * arrays[count][i];
    }
  });
}

TEST(VectorKernels, EndAStep) {
  each([](VectorKernels const& loops, std::size_t n) {
    for (std::size_t const stages : {3U, 4U}) {
      std::vector<std::vector<double>> K{wave(n, 0.7), wave(n, 1.1), wave(n, 1.9), wave(n, 2.3)};
      auto const y = wave(n, 0.3);
      std::vector<double> trial(n), error(n);
      StepEnd end{y.data(), {},           {1.0, -2.0, 0.5, 3.0}, {0.25, 0.5, -1.0, 2.0},
                  stages,   trial.data(), error.data()};
      for (std::size_t s = 0; s < 4; ++s) end.K[s] = K[s].data();
      EXPECT_TRUE(loops.conclude(end, n));
      for (std::size_t i = 0; i < n; ++i) {
        double a = y[i], b = 0.0;
        for (std::size_t s = 0; s < stages; ++s) {
          a += end.m[s] * K[s][i];
          b += end.e[s] * K[s][i];
        }
        EXPECT_NEAR(trial[i], a, 1e-14);
        EXPECT_NEAR(error[i], b, 1e-14);
      }
      for (std::size_t at = 0; at < n; ++at) {
        double const good = K[1][at];
        for (double const bad : {std::numeric_limits<double>::infinity(), std::nan("")}) {
          K[1][at] = bad;
          EXPECT_FALSE(loops.conclude(end, n)) << at;
        }
        K[1][at] = good;
      }
    }
  });
}

TEST(VectorKernels, FindTheLargestWhereverItStands) {
  each([](VectorKernels const& loops, std::size_t n) {
    for (std::size_t at = 0; at < n; ++at) {
      std::vector<double> x(n, 0.5), y(n, 0.25);
      x[at] = -3.0;
      EXPECT_EQ(loops.largest(x.data(), n), 3.0);
      EXPECT_EQ(loops.farthest(x.data(), 0.5, n), 3.5);
      EXPECT_EQ(loops.largest_over(x.data(), y.data(), 0.75, n), 3.0);
      y[at] = -3.25;
      // 3/4 there, 0.5/1 elsewhere.
      EXPECT_EQ(loops.largest_over(x.data(), y.data(), 0.75, n), 0.75);
      // A slope of 3 over a third: steeper than a way of 0.5, not than one of 1.5, on either side.
      std::vector<double> const zero(n, 0.0), half(n, 0.5);
      auto far = half;
      far[at] = 1.5;
      EXPECT_TRUE(loops.any_steeper(x.data(), 1.0 / 3.0, half.data(), zero.data(), zero.data(), n));
      EXPECT_FALSE(loops.any_steeper(x.data(), 1.0 / 3.0, far.data(), zero.data(), zero.data(), n));
      EXPECT_FALSE(loops.any_steeper(x.data(), 1.0 / 3.0, far.data(), far.data(), zero.data(), n));
    }
  });
}

TEST(VectorKernels, LetFlowWhatTheLinksLetThrough) {
  each([](VectorKernels const& loops, std::size_t n) {
    auto const G = wave(n, 0.7), T = wave(n, 1.3);
    std::vector<double> const factor(n, 2.0);
    std::vector<double> flow(n), expected(n, 0.0);
    loops.net_flow(G.data(), T.data(), 3.0, 5.0, factor.data(), flow.data(), n);
    expected.front() += 3.0;
    expected.back() += 5.0;
    for (std::size_t i = 0; i + 1 < n; ++i) {
      double const q = G[i] * (T[i + 1] - T[i]);
      expected[i] += q;
      expected[i + 1] -= q;
    }
    for (std::size_t i = 0; i < n; ++i) EXPECT_NEAR(flow[i], 2.0 * expected[i], 1e-14);
  });
}

TEST(VectorKernels, EliminateTheStateOfEachCell) {
  each([](VectorKernels const& loops, std::size_t n) {
    double const d = 4.0;
    auto const f_alpha = wave(n, 0.7), f_T = wave(n, 1.1), r = wave(n, 1.7), K_T = wave(n, 2.1);
    auto const weight = wave(n, 0.4);
    std::vector<double> shift(n), B(n), x = r, heat(n, 1.0);
    CellArrays const cells{n, f_alpha.data(), f_T.data(), shift.data(), B.data()};
    EXPECT_DOUBLE_EQ(loops.factorise_cells(cells, d),
                     d - std::max(0.0, *std::max_element(f_alpha.begin(), f_alpha.end())));
    loops.reduce_cells(cells, d, x.data(), weight.data(), heat.data());
    auto const A = x;
    loops.complete_cells(cells, K_T.data(), x.data());
    for (std::size_t j = 0; j < n; ++j) {
      // The row that was to be solved, and what the cell's cure gives off beyond r.
      EXPECT_NEAR((d - f_alpha[j]) * x[j], r[j] + f_T[j] * K_T[j], 1e-14);
      EXPECT_NEAR(heat[j], 1.0 + weight[j] * (d * A[j] - r[j]), 1e-14);
    }
    std::vector<double> const C(n + 2, 3.0), source(n, 0.5);
    std::vector<double> e(n + 2);
    loops.excess_of_cells(d, C.data(), n + 2, source.data(), B.data(), 1, n, e.data());
    EXPECT_EQ(e.front(), 12.0);
    EXPECT_EQ(e.back(), 12.0);
    for (std::size_t j = 0; j < n; ++j) EXPECT_NEAR(e[j + 1], 12.0 - 2.0 * B[j], 1e-14);
  });
}

}  // namespace
}  // namespace cure::numerics
