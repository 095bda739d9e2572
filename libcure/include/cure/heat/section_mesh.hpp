#pragma once
/// Layered mesh of control volumes in two dimensions: columns of cells, each a one-dimensional
/// cylinder mesh of its own, side by side around a pipe (r-theta) or along it (r-z).
///
/// The mesh is fitted: every layer's faces lie on cell faces in every column, and a layer may be
/// thicker in one column than in the next (an egg-shaped liner, a pool of resin). So the resin is
/// never smeared over a part-filled cell, and its hottest and coldest points are cells of resin.
/// Where thickness varies, faces are aslant to the radius; the slope of each face is kept, and
/// conduction takes it into account (see section_conduction.hpp).
///
/// Cells are numbered row by row, cell (i, j) being i * columns + j: rows i from inside to outside,
/// columns j by angle from the invert or by position.

#include <cmath>
#include <cstddef>
#include <functional>
#include <numbers>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/heat/mesh.hpp"

namespace cure::heat {

enum class Section {
  around,  ///< (r-theta), per metre of pipe; positions are angles from the invert [rad]
  along,   ///< (r-z), all the way round; positions are lengths [m]
};

/// What stands in one column, inside to outside.
struct Column {
  double inner_radius = 0.0;  ///< [m], above 0
  std::vector<Layer> layers;
};

/// Where on the pipe's circumference an angle from the invert [rad] lies, in the trade's words.
inline char const* clock_position(double angle) {
  double const eighth = std::numbers::pi / 8.0;
  double const a = std::abs(std::remainder(angle, 2.0 * std::numbers::pi));
  if (a < eighth) return "invert";
  if (a < 3.0 * eighth) return "haunch";
  if (a < 5.0 * eighth) return "springline";
  return a < 7.0 * eighth ? "shoulder" : "crown";
}

struct SectionMesh {
  Section section = Section::around;
  bool closed = false;        ///< a full circle: the last column neighbours the first
  std::vector<double> edge;   ///< positions of the column edges, columns() + 1 [rad or m]
  std::vector<Mesh> column;   ///< its volumes are per full circle and metre
  std::vector<double> slope;  ///< of face i in column j against the circle: dr/ds, (rows + 1) rows

  [[nodiscard]] std::size_t rows() const { return column.front().size(); }
  [[nodiscard]] std::size_t columns() const { return column.size(); }
  [[nodiscard]] std::size_t size() const { return rows() * columns(); }
  [[nodiscard]] double width(std::size_t j) const { return edge[j + 1] - edge[j]; }
  /// Middle of a column [rad or m].
  [[nodiscard]] double position(std::size_t j) const { return 0.5 * (edge[j] + edge[j + 1]); }
  /// Share that a column has of a full circle one metre long [-].
  [[nodiscard]] double share(std::size_t j) const {
    return section == Section::around ? width(j) / (2.0 * std::numbers::pi) : width(j);
  }
  [[nodiscard]] Layer const& layer(std::size_t i, std::size_t j) const {
    return column[j].layers[column[j].layer[i]];
  }
  [[nodiscard]] Layer const& layer(std::size_t cell) const {
    return layer(cell / columns(), cell % columns());
  }
  /// A cell in words.
  [[nodiscard]] std::string place(std::size_t cell) const {
    auto const i = cell / columns(), j = cell % columns();
    return layer(i, j).name + " row " + std::to_string(i + 1) + " of " + std::to_string(rows()) +
           ", column " + std::to_string(j + 1) + " of " + std::to_string(columns()) +
           (section == Section::around ? std::string(", ") + clock_position(position(j))
                                       : ", z = " + std::to_string(position(j)) + " m") +
           ", r = " + std::to_string(column[j].node[i] * 1e3) + " mm";
  }
};

/// Equal columns from `first` to `last` [rad or m]: their edges.
inline std::vector<double> equal_edges(double first, double last, std::size_t columns) {
  std::vector<double> edge;
  for (std::size_t j = 0; j <= columns; ++j) {
    edge.push_back(first + (last - first) * static_cast<double>(j) / static_cast<double>(columns));
  }
  return edge;
}

/// Columns in which one layer's thickness follows the position, its outer face staying on one
/// radius: layers inside it move with its inner face.
/// @param seat radius of that layer's outer face [m]
/// @param name of the layer
/// @param thickness of it at a position [m]
/// @throws InputError when there is no such layer
inline std::vector<Column> fitted_columns(std::span<double const> edge, double seat,
                                          std::span<Layer const> layers, std::string const& name,
                                          std::function<double(double)> const& thickness) {
  std::vector<Column> columns;
  for (std::size_t j = 0; j + 1 < edge.size(); ++j) {
    Column c{seat, {layers.begin(), layers.end()}};
    bool found = false;
    for (auto& layer : c.layers) {
      if (layer.name == name) layer.thickness = thickness(0.5 * (edge[j] + edge[j + 1]));
      if (!found) c.inner_radius -= layer.thickness;
      found = found || layer.name == name;
    }
    if (!found) throw InputError("layer", name, "the name of one of the layers");
    columns.push_back(std::move(c));
  }
  return columns;
}

namespace detail {

/// Slope of every face, from the columns on both sides; at an open end the neighbour is the mirror.
inline std::vector<double> face_slopes(SectionMesh const& m) {
  auto const n = m.columns();
  double const turn = m.edge.back() - m.edge.front();
  std::vector<double> slope;
  for (std::size_t i = 0; i <= m.rows(); ++i) {
    for (std::size_t j = 0; j < n; ++j) {
      bool const first = j == 0, last = j + 1 == n;
      auto const before = first ? (m.closed ? n - 1 : 0) : j - 1;
      auto const after = last ? (m.closed ? 0 : n - 1) : j + 1;
      double from = m.position(before), to = m.position(after);
      if (first) from = m.closed ? from - turn : 2.0 * m.edge.front() - from;
      if (last) to = m.closed ? to + turn : 2.0 * m.edge.back() - to;
      double const dr = m.column[after].face[i] - m.column[before].face[i];
      double const ds = (to - from) * (m.section == Section::around ? m.column[j].face[i] : 1.0);
      slope.push_back(dr / ds);
    }
  }
  return slope;
}

}  // namespace detail

/// @param edge positions of the column edges, rising; a full circle when they span 2 pi around,
/// else the first and last edge are planes of symmetry (half a pipe is 0 to pi)
/// @param columns one fewer than edges, all with as many layers, and cells in each, as the first
/// @throws InputError
inline SectionMesh make_section_mesh(Section section, std::vector<double> edge,
                                     std::span<Column const> columns) {
  if (columns.empty() || edge.size() != columns.size() + 1) {
    throw InputError("columns", std::to_string(columns.size()), "one fewer than their edges");
  }
  double const turn = 2.0 * std::numbers::pi;
  for (std::size_t j = 0; j < columns.size(); ++j) {
    if (!(edge[j + 1] > edge[j])) {
      throw InputError("edge[" + std::to_string(j + 1) + "]", std::to_string(edge[j + 1]),
                       "above the edge before it");
    }
  }
  double const span = edge.back() - edge.front();
  if (section == Section::around && !(span < turn * (1.0 + 1e-12))) {
    throw InputError("edges", std::to_string(span) + " rad", "at most a full circle");
  }
  SectionMesh mesh;
  mesh.section = section;
  mesh.closed = section == Section::around && span > turn * (1.0 - 1e-12);
  mesh.edge = std::move(edge);
  for (std::size_t j = 0; j < columns.size(); ++j) {
    auto const where = "column[" + std::to_string(j) + "]";
    if (!(columns[j].inner_radius > 0.0)) {
      throw InputError(where + " inner radius", std::to_string(columns[j].inner_radius) + " m",
                       "above 0");
    }
    mesh.column.push_back(
        make_mesh(Geometry::cylinder, columns[j].inner_radius, columns[j].layers));
    if (mesh.column[j].first != mesh.column[0].first) {
      throw InputError(where + " layers", "not those of the first column",
                       "as many layers, and as many cells in each, as in the first column");
    }
  }
  mesh.slope = detail::face_slopes(mesh);
  return mesh;
}

/// Angle from the invert up to which water of a depth [m] wets a bore of a radius [m]; pi when
/// full.
inline double wetted_angle(double depth, double radius) {
  if (!(depth > 0.0)) return 0.0;
  return depth < 2.0 * radius ? std::acos(1.0 - depth / radius) : std::numbers::pi;
}

}  // namespace cure::heat
