#pragma once
/// Where the resin is judged: at the nodes of its cells, and at both faces of the liner. A cell's
/// node stands half a cell inside the face, where the resin is coldest or hottest, so times read at
/// nodes alone are of first order in the cell width and mostly early.
///
/// At a face temperature and cure are carried on in a straight line from the two cells next to it
/// (the cells of a liner are of one width): second order, as the solution itself.
///
/// Points across the liner count from the inner face over the cells to the outer face. A mixed
/// mass, and a liner of one cell, have no faces.

#include <cstddef>

#include "cure/scalar.hpp"

namespace cure::process {

/// Points across a liner of so many cells.
constexpr std::size_t point_count(std::size_t cells) { return cells < 2 ? cells : cells + 2; }

/// The cell at a point or next to it, and the one behind that; the same twice for a cell's node.
struct PointCells {
  std::size_t at, behind;
};
constexpr PointCells point_cells(std::size_t point, std::size_t cells) {
  if (cells < 2) return {point, point};
  if (point == 0) return {0, 1};
  if (point == cells + 1) return {cells - 1, cells - 2};
  return {point - 1, point - 1};
}

/// A temperature at a point from those of its cells.
template <class Scalar>
Scalar carried_on(Scalar const& at, Scalar const& behind) {
  return at + Scalar(0.5) * (at - behind);
}

/// The same for a degree of cure, which stays between 0 and 1.
template <class Scalar>
Scalar cure_carried_on(Scalar const& at, Scalar const& behind) {
  Scalar const x = carried_on(at, behind);
  Scalar const low = select(x < Scalar(0.0), Scalar(0.0), x);
  return select(low < Scalar(1.0), low, Scalar(1.0));
}

}  // namespace cure::process
