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
    for (auto* v : {&capacity_, &conductance_, &inner_half_of_, &outer_half_of_, &contact_}) {
      v->reserve(n);
    }
    auto const half = [&](std::size_t i, double a, double b) {
      return shell_resistance(mesh_.geometry, a, b, material(i).conductivity);
    };
    for (std::size_t i = 0; i < n; ++i) {
      capacity_.push_back(material(i).heat_capacity() * mesh_.volume[i]);
      // The innermost half of a solid body has no inner surface; its resistance is not used.
      double const to_inner = mesh_.face[i] > 0.0 || mesh_.geometry == Geometry::slab
                                  ? half(i, mesh_.face[i], mesh_.node[i])
                                  : 1.0;
      inner_half_of_.push_back(to_inner);
      outer_half_of_.push_back(half(i, mesh_.node[i], mesh_.face[i + 1]));
    }
    for (std::size_t i = 0; i + 1 < n; ++i) {
      bool const interface = mesh_.layer[i] != mesh_.layer[i + 1];
      contact_.push_back(interface ? mesh_.layers[mesh_.layer[i]].contact_outside /
                                         surface_area(mesh_.geometry, mesh_.face[i + 1])
                                   : 0.0);
      conductance_.push_back(1.0 / (outer_half_of_[i] + contact_[i] + inner_half_of_[i + 1]));
    }
    inner_area_ = surface_area(mesh_.geometry, mesh_.face.front());
    outer_area_ = surface_area(mesh_.geometry, mesh_.face.back());
    if (mesh_.geometry != Geometry::slab && mesh_.face.front() == 0.0) inner_ = Insulated{};
  }

  [[nodiscard]] std::size_t size() const { return capacity_.size(); }
  [[nodiscard]] Mesh const& mesh() const { return mesh_; }
  [[nodiscard]] Material const& material(std::size_t cell) const {
    return mesh_.layers[mesh_.layer[cell]].material;
  }
  /// Heat capacity of each cell [J/K].
  [[nodiscard]] std::span<double const> capacity() const { return capacity_; }
  /// Volume of each cell [m3], of a unit of length or area.
  [[nodiscard]] std::span<double const> volume() const { return mesh_.volume; }
  /// Conductance between cell i and i + 1 [W/K].
  [[nodiscard]] std::span<double const> conductance() const { return conductance_; }
  /// @param T of the surface cell [K]
  /// @param factor its conductivity over that of its material [-]
  [[nodiscard]] SurfaceLoad inner_load(double t, double T, double factor = 1.0) const {
    return surface_load(inner_, t, inner_area_, inner_half_of_.front() / factor, T);
  }
  [[nodiscard]] SurfaceLoad outer_load(double t, double T, double factor = 1.0) const {
    return surface_load(outer_, t, outer_area_, outer_half_of_.back() / factor, T);
  }
  [[nodiscard]] Boundary const& inner() const { return inner_; }
  [[nodiscard]] Boundary const& outer() const { return outer_; }
  [[nodiscard]] std::vector<double> corners() const {
    auto times = heat::corners(inner_);
    auto const more = heat::corners(outer_);
    times.insert(times.end(), more.begin(), more.end());
    return times;
  }

  /// The conductances when conductivity is `factor` (of each cell) times that of its material
  /// [W/K].
  void scaled_conductance(std::span<double const> factor, std::span<double> G) const {
    for (std::size_t i = 0; i + 1 < size(); ++i) {
      G[i] = 1.0 /
             (outer_half_of_[i] / factor[i] + contact_[i] + inner_half_of_[i + 1] / factor[i + 1]);
    }
  }

 private:
  Mesh mesh_;
  Boundary inner_, outer_;
  std::vector<double> capacity_, conductance_;
  std::vector<double> inner_half_of_, outer_half_of_, contact_;  ///< resistances [K/W]
  double inner_area_ = 0.0, outer_area_ = 0.0;
};

}  // namespace cure::heat
