#pragma once
/// Heat on its way in a two-dimensional wall: what an implicit step needs of it (see
/// section_conduction.hpp), and films of water between two layers.

#include <cstddef>
#include <vector>

#include "cure/heat/boundary.hpp"

namespace cure::heat {

/// Water between two layers of one column.
struct Film {
  std::size_t layer = 0;     ///< that it lies on the outside of
  double h = 0.0;            ///< to either side [W/(m2 K)], above 0
  double temperature = 0.0;  ///< [K]
};

/// A film's conductances to the cell inside it and to the one outside it.
struct FilmLoad {
  std::size_t cell = 0;             ///< inside it
  double inner = 0.0, outer = 0.0;  ///< [W/K]
};

/// Conductances and surface loads at one state.
struct SectionFlow {
  std::vector<double> radial;  ///< from row i to row i + 1, (rows - 1) rows [W/K]
  std::vector<double> across;  ///< from column j to j + 1, the last back to the first [W/K]
  std::vector<FilmLoad> film;  ///< one for each film
  std::vector<SurfaceLoad> inner, outer;        ///< of each column
  std::vector<double> inner_cell, outer_cell;   ///< temperature that each surface meets [K]
  std::vector<double> along_row, along_column;  ///< D_s and D_r of each cell [K/m]; aslant only
  /// 1/(k area) of a cell's edges, inner and outer face [K/(W m)]; aslant only.
  std::vector<double> per_edge, per_inner, per_outer;
  std::vector<double> edge;  ///< through each edge of the row in work
  std::vector<double> heat;  ///< into each cell from its neighbours [W]
  double heat_in = 0.0;      ///< through the inner surface [W]
  double heat_out = 0.0;     ///< through the outer surface and from films [W]
};

}  // namespace cure::heat
