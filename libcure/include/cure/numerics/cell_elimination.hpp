#pragma once
/// The loops over cells with one state alpha each that is coupled to the row's unknown T in its own
/// cell only, in code compiled once for each set of vector instructions (see
/// tridiagonal_kernels.hpp). In a linearly implicit stage the row of alpha, (d - f_alpha) K_alpha =
/// r + f_T K_T, gives
///   K_alpha = A + B K_T  with  A = r/(d - f_alpha), B = f_T/(d - f_alpha).

#include <cstddef>

#include "cure/arithmetic.hpp"

namespace cure::numerics {

/// By cell.
struct CellArrays {
  std::size_t cells = 0;
  double const *f_alpha = nullptr, *f_T = nullptr;
  double *shift = nullptr, *B = nullptr;  ///< 1/(d - f_alpha), and B
};

/// @returns the smallest d - f_alpha, or d where that is smaller
template <std::size_t Bytes>
double factorise_cells(CellArrays const& c, double d) {
  double const *const f_alpha = c.f_alpha, *const f_T = c.f_T;
  double* __restrict const shift = c.shift, * __restrict const B = c.B;
  auto const n = c.cells;
  for (std::size_t j = 0; j < n; ++j) {
    double const s = 1.0 / (d - f_alpha[j]);
    shift[j] = s;
    B[j] = f_T[j] * s;
  }
  double most = 0.0;
  for (std::size_t j = 0; j < n; ++j) most = most < f_alpha[j] ? f_alpha[j] : most;
  return d - most;
}

/// r into A, in place, and weight (d A - r) added to `heat`.
template <std::size_t Bytes>
void reduce_cells(CellArrays const& c, double d, double* __restrict x, double const* weight,
                  double* __restrict heat) {
  double const* const shift = c.shift;
  auto const n = c.cells;
  for (std::size_t j = 0; j < n; ++j) {
    double const r = x[j], A = r * shift[j];
    x[j] = A;
    heat[j] += weight[j] * (d * A - r);
  }
}

/// A into A + B K_T, in place.
template <std::size_t Bytes>
void complete_cells(CellArrays const& c, double const* K_T, double* __restrict x) {
  double const* const B = c.B;
  auto const n = c.cells;
  for (std::size_t j = 0; j < n; ++j) x[j] += B[j] * K_T[j];
}

/// e_i = d C_i of a row of n; less d source_j B_j from e_first on, of the m cells with a state.
template <std::size_t Bytes>
void excess_of_cells(double d, double const* C, std::size_t n, double const* source,
                     double const* B, std::size_t first, std::size_t m, double* __restrict e) {
  for (std::size_t i = 0; i < n; ++i) e[i] = d * C[i];
  for (std::size_t j = 0; j < m; ++j) e[first + j] -= (source[j] * d) * B[j];
}

}  // namespace cure::numerics
