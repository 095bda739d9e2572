#pragma once
/// The loops along a row of a section's cells: what leaves it for the next row, and what crosses
/// its edges. Most of a section's time is here, so there is no branch for a cell, and what is
/// written is known to be none of what is read: compilers then make vectors of it. The formulas:
/// section_conduction.hpp.

#include <cstddef>

#include "cure/arithmetic.hpp"

namespace cure::heat::rows {

/// The faces between a row and the next, by column; of the near row's cells and of the far one's.
struct Faces {
  double const* conductance;             ///< [W/K]
  double const *lean_near, *lean_far;    ///< [m]
  double const *along_near, *along_far;  ///< D_s [K/m]
  double const *per_near, *per_far;      ///< 1/(k area) [K/(W m)]
  double const* slope;                   ///< p
  double const* half;                    ///< 0.5/(1 + p^2)
};

/// Heat through faces on one radius, into the heats of both rows [W].
inline void add_radial(std::size_t m, double const* G, double const* T, double const* T_far,
                       double* __restrict heat, double* __restrict heat_far) {
  for (std::size_t j = 0; j < m; ++j) {
    double const q = G[j] * (T_far[j] - T[j]);
    heat[j] += q;
    heat_far[j] -= q;
  }
}

/// The same through faces aslant, with what it adds to each cell's gradient along its column.
inline void add_radial(std::size_t m, Faces const& faces, double const* T, double const* T_far,
                       double* __restrict heat, double* __restrict heat_far,
                       double* __restrict column, double* __restrict column_far) {
  auto const f = faces;
  for (std::size_t j = 0; j < m; ++j) {
    double const lean = f.lean_near[j] * f.along_near[j] + f.lean_far[j] * f.along_far[j];
    double const q = f.conductance[j] * (T_far[j] - T[j] - lean);
    heat[j] += q;
    heat_far[j] -= q;
    column[j] += f.half[j] * (q * f.per_near[j] + f.slope[j] * f.along_near[j]);
    column_far[j] += f.half[j] * (q * f.per_far[j] + f.slope[j] * f.along_far[j]);
  }
}

/// What crosses the edges of a row [W]: m + 1 of them, before each cell and after the last.
/// @param G from each cell to the next, of the last to the first (0 where that is no neighbour)
inline void set_edges(std::size_t m, double const* G, double const* T, double* __restrict edge) {
  for (std::size_t j = 0; j + 1 < m; ++j) edge[j + 1] = G[j] * (T[j + 1] - T[j]);
  edge[0] = edge[m] = G[m - 1] * (T[0] - T[m - 1]);
}

/// The same where columns lean. @param column D_r of each cell [K/m]
inline void set_edges(std::size_t m, double const* G, double const* T, double const* lean,
                      double const* column, double* __restrict edge) {
  auto const q = [=](std::size_t j, std::size_t next) {
    return G[j] * (T[next] - T[j] - (lean[j] * column[j] + lean[next] * column[next]));
  };
  for (std::size_t j = 0; j + 1 < m; ++j) edge[j + 1] = q(j, j + 1);
  edge[0] = edge[m] = q(m - 1, 0);
}

inline void add_edges(std::size_t m, double const* edge, double* __restrict heat) {
  for (std::size_t j = 0; j < m; ++j) heat[j] += edge[j + 1] - edge[j];
}

/// Each cell's gradient along its row: mean of what its two edges carry [K/m].
/// @param per 1/(k area) of its edges
inline void set_along(std::size_t m, double const* edge, double const* per,
                      double* __restrict along) {
  for (std::size_t j = 0; j < m; ++j) along[j] = 0.5 * per[j] * (edge[j + 1] + edge[j]);
}

}  // namespace cure::heat::rows
