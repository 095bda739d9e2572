#pragma once
/// Layered one-dimensional mesh of control volumes, inside to outside, in a slab, a cylinder or a
/// sphere. Quantities are per square metre of slab, per metre of cylinder, or of the whole sphere.
/// Between a layer's faces the cell widths grow geometrically.
///
/// The conductance between two nodes is that of steady conduction between their radii (for a
/// cylinder the logarithmic one; H.S. Carslaw, J.C. Jaeger, "Conduction of Heat in Solids", 2nd
/// ed., 1959, sec. 7.2), so a layered steady state is exact at the nodes on any mesh.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cure/error.hpp"
#include "cure/heat/material.hpp"

namespace cure::heat {

enum class Geometry { slab, cylinder, sphere };

struct Layer {
  std::string name;
  double thickness = 0.0;  ///< [m]
  Material material;
  std::size_t cells = 1;
  double growth = 1.0;           ///< width of the last cell over that of the first [-]
  double contact_outside = 0.0;  ///< contact resistance at the outer interface [m2 K/W]
};

/// Area of the surface at radius r: 1 m2 (slab), per metre (cylinder), whole (sphere).
inline double surface_area(Geometry geometry, double r) {
  switch (geometry) {
    case Geometry::cylinder: return 2.0 * std::numbers::pi * r;
    case Geometry::sphere: return 4.0 * std::numbers::pi * r * r;
    case Geometry::slab: break;
  }
  return 1.0;
}

/// Volume between two radii.
inline double shell_volume(Geometry geometry, double a, double b) {
  switch (geometry) {
    case Geometry::cylinder: return std::numbers::pi * (b - a) * (b + a);
    case Geometry::sphere: return 4.0 / 3.0 * std::numbers::pi * (b - a) * (b * b + a * b + a * a);
    case Geometry::slab: break;
  }
  return b - a;
}

/// Thermal resistance of steady conduction between radii a < b [K/W].
inline double shell_resistance(Geometry geometry, double a, double b, double k) {
  switch (geometry) {
    case Geometry::cylinder: return std::log(b / a) / (2.0 * std::numbers::pi * k);
    case Geometry::sphere: return (1.0 / a - 1.0 / b) / (4.0 * std::numbers::pi * k);
    case Geometry::slab: break;
  }
  return (b - a) / k;
}

/// Growth (last width over first) with which n cells fill a thickness when the first is `width` [m]
/// wide; 1 when equal cells are already that narrow.
inline double growth_from_first_cell(double thickness, std::size_t n, double width) {
  if (n < 2 || !(static_cast<double>(n) * width < thickness)) return 1.0;
  // The first n cells fill width (q^n - 1)/(q - 1). Its logarithm rises with s = ln q and bends
  // upwards, ever closer to a straight line: Newton from above falls fast and never past the root.
  auto const N = static_cast<double>(n);
  double const target = std::log(thickness / width);
  auto const log_filled = [N](double s) {
    return (N - 1.0) * s + std::log1p(-std::exp(-N * s)) - std::log1p(-std::exp(-s));
  };
  double s = 0.5;
  while (log_filled(s) < target) s *= 2.0;
  for (int i = 0; i < 100; ++i) {
    double const slope = N / -std::expm1(-N * s) - 1.0 / -std::expm1(-s);
    double const step = (log_filled(s) - target) / slope;
    s -= step;
    if (std::abs(step) < 1e-14 * s) break;
  }
  return std::exp((N - 1.0) * s);
}

struct Mesh {
  Geometry geometry = Geometry::cylinder;
  std::vector<Layer> layers;
  std::vector<double> face;        ///< radii of the faces, size() + 1 [m]
  std::vector<double> node;        ///< radii of the nodes [m]
  std::vector<double> volume;      ///< of each cell
  std::vector<std::size_t> layer;  ///< index into layers, of each cell
  std::vector<std::size_t> first;  ///< first cell of each layer, layers.size() + 1 entries

  [[nodiscard]] std::size_t size() const { return node.size(); }
  /// Index of the layer of that name, or layers.size().
  [[nodiscard]] std::size_t find(std::string_view name) const {
    std::size_t i = 0;
    while (i < layers.size() && layers[i].name != name) ++i;
    return i;
  }
  /// A cell in words.
  [[nodiscard]] std::string place(std::size_t cell) const {
    auto const l = layer[cell];
    return layers[l].name + " cell " + std::to_string(cell - first[l] + 1) + " of " +
           std::to_string(layers[l].cells) + ", r = " + std::to_string(node[cell] * 1e3) + " mm";
  }
};

/// @param inner_radius of the innermost face [m]; 0 for a solid body
/// @throws InputError
inline Mesh make_mesh(Geometry geometry, double inner_radius, std::span<Layer const> layers) {
  if (!(inner_radius >= 0.0)) {
    throw InputError("inner radius", std::to_string(inner_radius) + " m", "0 or more");
  }
  Mesh mesh;
  mesh.geometry = geometry;
  mesh.layers.assign(layers.begin(), layers.end());
  std::size_t cells = 0;
  for (auto const& layer : layers) cells += std::min<std::size_t>(layer.cells, 100000);
  mesh.face.reserve(cells + 1);
  mesh.node.reserve(cells);
  mesh.volume.reserve(cells);
  mesh.layer.reserve(cells);
  mesh.face.push_back(inner_radius);
  for (std::size_t l = 0; l < layers.size(); ++l) {
    auto const& layer = layers[l];
    if (!(layer.thickness > 0.0)) {
      throw InputError(layer.name + " thickness", std::to_string(layer.thickness) + " m",
                       "above 0");
    }
    if (layer.cells == 0 || layer.cells > 100000) {
      throw InputError(layer.name + " cells", std::to_string(layer.cells), "1 to 100000");
    }
    mesh.first.push_back(mesh.layer.size());
    auto const n = layer.cells;
    double const ratio = n > 1 ? std::pow(layer.growth, 1.0 / static_cast<double>(n - 1)) : 1.0;
    double total = 0.0;
    double width = 1.0;
    for (std::size_t i = 0; i < n; ++i, width *= ratio) total += width;
    double const start = mesh.face.back();
    double filled = 0.0;
    width = 1.0;
    for (std::size_t i = 0; i < n; ++i, width *= ratio) {
      filled += width;
      // The last face is set exactly, so that layers meet without round-off.
      double const outer = start + layer.thickness * (i + 1 == n ? 1.0 : filled / total);
      double const inner = mesh.face.back();
      mesh.node.push_back(0.5 * (inner + outer));
      mesh.volume.push_back(shell_volume(geometry, inner, outer));
      mesh.layer.push_back(l);
      mesh.face.push_back(outer);
    }
  }
  mesh.first.push_back(mesh.layer.size());
  if (mesh.node.empty()) throw InputError("layers", "none", "at least one layer");
  return mesh;
}

}  // namespace cure::heat
