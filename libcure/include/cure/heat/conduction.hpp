#pragma once
/// Heat conduction on a layered mesh: capacities, conductances between nodes and the two surfaces.
///   C_i dT_i/dt = G_{i-1/2} (T_{i-1} - T_i) + G_{i+1/2} (T_{i+1} - T_i) + source_i
/// Contact resistances stand in series with the half cells at an interface. What leaves one cell
/// enters its neighbour, so energy is conserved to round-off.

#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "cure/heat/boundary.hpp"
#include "cure/heat/mesh.hpp"

namespace cure::heat {

class Conduction {
 public:
  Conduction(Mesh mesh, Boundary inner, Boundary outer)
      : mesh_(std::move(mesh)), inner_(std::move(inner)), outer_(std::move(outer)) {
    auto const n = mesh_.size();
    auto const half = [&](std::size_t i, double a, double b) {
      return shell_resistance(mesh_.geometry, a, b, material(i).conductivity);
    };
    capacity_.reserve(n);
    conductance_.reserve(n > 0 ? n - 1 : 0);
    for (std::size_t i = 0; i < n; ++i) {
      capacity_.push_back(material(i).heat_capacity() * mesh_.volume[i]);
      if (i + 1 == n) break;
      double const face = mesh_.face[i + 1];
      double resistance = half(i, mesh_.node[i], face) + half(i + 1, face, mesh_.node[i + 1]);
      if (mesh_.layer[i] != mesh_.layer[i + 1]) {
        resistance +=
            mesh_.layers[mesh_.layer[i]].contact_outside / surface_area(mesh_.geometry, face);
      }
      conductance_.push_back(1.0 / resistance);
    }
    inner_area_ = surface_area(mesh_.geometry, mesh_.face.front());
    outer_area_ = surface_area(mesh_.geometry, mesh_.face.back());
    // A solid body has no inner surface; its resistance is not used.
    bool const solid = mesh_.geometry != Geometry::slab && mesh_.face.front() == 0.0;
    inner_half_ = solid ? 1.0 : half(0, mesh_.face.front(), mesh_.node.front());
    if (solid) inner_ = Insulated{};
    outer_half_ = half(n - 1, mesh_.node.back(), mesh_.face.back());
  }

  [[nodiscard]] std::size_t size() const { return capacity_.size(); }
  [[nodiscard]] Mesh const& mesh() const { return mesh_; }
  [[nodiscard]] Material const& material(std::size_t cell) const {
    return mesh_.layers[mesh_.layer[cell]].material;
  }
  /// Heat capacity of each cell [J/K].
  [[nodiscard]] std::span<double const> capacity() const { return capacity_; }
  /// Conductance between cell i and i + 1 [W/K].
  [[nodiscard]] std::span<double const> conductance() const { return conductance_; }
  [[nodiscard]] SurfaceLoad inner_load(double t) const {
    return surface_load(inner_, t, inner_area_, inner_half_);
  }
  [[nodiscard]] SurfaceLoad outer_load(double t) const {
    return surface_load(outer_, t, outer_area_, outer_half_);
  }
  [[nodiscard]] std::vector<double> corners() const {
    auto times = heat::corners(inner_);
    auto const more = heat::corners(outer_);
    times.insert(times.end(), more.begin(), more.end());
    return times;
  }

  /// Net conducted heat into each interior face pair, added to `heat` [W].
  void add_conducted(std::span<double const> T, std::span<double> heat) const {
    for (std::size_t i = 0; i + 1 < capacity_.size(); ++i) {
      double const q = conductance_[i] * (T[i + 1] - T[i]);
      heat[i] += q;
      heat[i + 1] -= q;
    }
  }

 private:
  Mesh mesh_;
  Boundary inner_, outer_;
  std::vector<double> capacity_, conductance_;
  double inner_area_ = 0.0, outer_area_ = 0.0, inner_half_ = 1.0, outer_half_ = 1.0;
};

}  // namespace cure::heat
