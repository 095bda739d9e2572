#pragma once
/// Heat conduction on a two-dimensional mesh: along the radius in each column and across from
/// column to column. Between two nodes of a row the heat crosses their common edge,
///   around: k ln(r_out/r_in)/d(theta),   along: k pi (r_out^2 - r_in^2)/dz   [W/K],
/// half a cell of each in series; along the radius it is that of one-dimensional walls.
///
/// Where a layer's thickness varies its faces are aslant, by p = dr/ds. In coordinates that follow
/// the faces (D_r along the column, D_s along the row)
///   heat through a face = k A [(1 + p^2) D_r - p D_s],   through an edge = k (D_s - p D_r) per
///   area.
/// Heat leaves one cell and enters its neighbour, so energy is conserved to round-off. The terms in
/// p that couple D_r and D_s count in the heats but not in the conductances, which an implicit step
/// uses; a W-method forgives that.
///
/// A film of water between two layers keeps a given temperature (there is plenty of it, and it
/// moves): it takes the contact's place, and both layers convect to it.

#include <cmath>
#include <cstddef>
#include <numbers>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/heat/boundary.hpp"
#include "cure/heat/section_flow.hpp"
#include "cure/heat/section_mesh.hpp"
#include "cure/heat/section_rows.hpp"

namespace cure::heat {

class SectionConduction {
 public:
  /// @param inner,outer what happens at the surfaces of each column
  /// @param films of each column; empty for none anywhere
  /// @throws InputError
  SectionConduction(SectionMesh mesh, std::vector<Boundary> inner, std::vector<Boundary> outer,
                    std::vector<std::optional<Film>> films = {})
      : mesh_(std::move(mesh)), inner_(std::move(inner)), outer_(std::move(outer)) {
    auto const m = mesh_.columns(), n = mesh_.rows();
    if (inner_.size() != m || outer_.size() != m) {
      throw InputError(
          "boundaries",
          std::to_string(inner_.size()) + " inner, " + std::to_string(outer_.size()) + " outer",
          std::to_string(m) + " of each, one for each column");
    }
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = 0; j < m; ++j) add_cell(i, j);
    }
    if (films.empty()) return;
    if (films.size() != m) {
      throw InputError("films", std::to_string(films.size()), "one for each column");
    }
    for (std::size_t j = 0; j < m; ++j) {
      if (!films[j]) continue;
      auto const row = mesh_.column[j].first[films[j]->layer + 1];
      if (row >= n || !(films[j]->h > 0.0)) {
        throw InputError("film", "layer " + std::to_string(films[j]->layer),
                         "between two layers, with h above 0");
      }
      film_.push_back({(row - 1) * m + j, films[j]->h, films[j]->temperature});
    }
  }

  [[nodiscard]] SectionMesh const& mesh() const { return mesh_; }
  [[nodiscard]] std::size_t size() const { return capacity_.size(); }
  [[nodiscard]] Material const& material(std::size_t cell) const {
    return mesh_.layer(cell).material;
  }
  /// Heat capacity of each cell [J/K].
  [[nodiscard]] std::span<double const> capacity() const { return capacity_; }
  /// Volume of each cell: [m3/m] around, [m3] along.
  [[nodiscard]] std::span<double const> volume() const { return volume_; }
  [[nodiscard]] std::vector<double> corners() const {
    std::vector<double> times;
    for (auto const* side : {&inner_, &outer_}) {
      for (auto const& boundary : *side) {
        auto const more = heat::corners(boundary);
        times.insert(times.end(), more.begin(), more.end());
      }
    }
    return times;
  }

  /// Room for a flow, with the conductances of constant properties.
  [[nodiscard]] SectionFlow make_flow() const {
    auto const m = mesh_.columns();
    SectionFlow flow;
    flow.radial.resize(size() - m);
    flow.across.resize(size());
    flow.film.resize(film_.size());
    flow.inner.resize(m);
    flow.outer.resize(m);
    flow.inner_cell.resize(m);
    flow.outer_cell.resize(m);
    flow.heat.resize(size());
    flow.edge.resize(m + 1);
    for (auto* v :
         {&flow.along_row, &flow.along_column, &flow.per_edge, &flow.per_inner, &flow.per_outer}) {
      if (aslant_) v->resize(size());
    }
    set_conductances(std::vector<double>(size(), 1.0), flow);
    return flow;
  }

  /// @param factor conductivity of each cell over that of its material [-]
  void set_conductances(std::span<double const> factor, SectionFlow& flow) const {
    auto const m = mesh_.columns();
    for (std::size_t c = 0; c + m < size(); ++c) {
      flow.radial[c] =
          1.0 / (outer_half_[c] / factor[c] + contact_[c] + inner_half_[c + m] / factor[c + m]);
    }
    for (std::size_t k = 0; k < film_.size(); ++k) {
      auto const c = film_[k].cell;
      double const p = mesh_.slope[c + m];
      double const film = 1.0 / (film_[k].h * outer_area_[c] * std::sqrt(1.0 + p * p));
      flow.radial[c] = 0.0;
      flow.film[k] = {c, 1.0 / (outer_half_[c] / factor[c] + film),
                      1.0 / (inner_half_[c + m] / factor[c + m] + film)};
    }
    for (std::size_t c = 0; c < size(); ++c) {
      auto const next = neighbour(c);
      flow.across[c] =
          next == c ? 0.0 : 1.0 / (across_half_[c] / factor[c] + across_half_[next] / factor[next]);
    }
    if (!aslant_) return;
    for (std::size_t c = 0; c < size(); ++c) {
      double const k = k_[c] * factor[c];
      flow.per_edge[c] = 1.0 / (k * edge_area_[c]);
      flow.per_inner[c] = 1.0 / (k * inner_area_[c]);
      flow.per_outer[c] = 1.0 / (k * outer_area_[c]);
    }
  }

  /// Surface loads and heats at temperatures T [K] and time t [s], with the conductances that stand
  /// in the flow.
  void set_heats(double t, std::span<double const> T, std::span<double const> factor,
                 SectionFlow& flow) const {
    std::fill(flow.heat.begin(), flow.heat.end(), 0.0);
    if (aslant_) set_along_row(T, flow);
    set_surfaces(t, T, factor, flow);
    set_films(T, flow);
    auto const m = mesh_.columns();
    double *const heat = flow.heat.data(), *const edge = flow.edge.data();
    for (std::size_t c = 0; c + m < size(); c += m) add_radial(c, T.data() + c, flow);
    for (std::size_t c = 0; c < size(); c += m) {
      double const *const G = flow.across.data() + c, *const at = T.data() + c;
      if (aslant_) {
        rows::set_edges(m, G, at, lean_across_.data() + c, flow.along_column.data() + c, edge);
      } else {
        rows::set_edges(m, G, at, edge);
      }
      rows::add_edges(m, edge, heat + c);
    }
  }

 private:
  void add_cell(std::size_t i, std::size_t j) {
    auto const m = mesh_.columns(), c = i * m + j;
    auto const& column = mesh_.column[j];
    auto const& layer = mesh_.layer(i, j);
    double const share = mesh_.share(j), k = layer.material.conductivity;
    double const a = column.face[i], r = column.node[i], b = column.face[i + 1];
    double const p_in = mesh_.slope[c], p_out = mesh_.slope[c + m];
    if (p_in != 0.0 || p_out != 0.0) aslant_ = true;
    volume_.push_back(share * column.volume[i]);
    capacity_.push_back(layer.material.heat_capacity() * volume_.back());
    k_.push_back(k);
    // A face aslant is larger by sqrt(1 + p^2) and nearer by as much.
    auto const half = [&](double from, double to, double p) {
      return shell_resistance(Geometry::cylinder, from, to, k) / (share * (1.0 + p * p));
    };
    inner_half_.push_back(half(a, r, p_in));
    outer_half_.push_back(half(r, b, p_out));
    inner_area_.push_back(share * surface_area(Geometry::cylinder, a));
    outer_area_.push_back(share * surface_area(Geometry::cylinder, b));
    bool const interface = i + 1 < mesh_.rows() && column.layer[i] != column.layer[i + 1];
    contact_.push_back(interface ? layer.contact_outside /
                                       (outer_area_.back() * std::sqrt(1.0 + p_out * p_out))
                                 : 0.0);
    bool const around = mesh_.section == Section::around;
    double const half_width = 0.5 * mesh_.width(j) * (around ? r : 1.0);  // [m]
    double const edge_area = around ? r * std::log(b / a) : shell_volume(Geometry::cylinder, a, b);
    across_half_.push_back(half_width / (k * edge_area));
    edge_area_.push_back(edge_area);
    half_.push_back(0.5 / (1.0 + p_in * p_in));
    lean_in_.push_back(p_in / (1.0 + p_in * p_in) * (r - a));
    lean_out_.push_back(p_out / (1.0 + p_out * p_out) * (b - r));
    lean_across_.push_back(0.5 * (p_in + p_out) * half_width);
  }

  /// The cell's neighbour in the next column, or the cell itself where there is none.
  [[nodiscard]] std::size_t neighbour(std::size_t c) const {
    auto const m = mesh_.columns();
    if ((c + 1) % m != 0) return c + 1;
    return mesh_.closed ? c + 1 - m : c;
  }

  // How far the temperature on the normal through a face is from that of the node.
  [[nodiscard]] double shift_in(std::size_t c, SectionFlow const& flow) const {
    return lean_in_[c] * flow.along_row[c];
  }
  [[nodiscard]] double shift_out(std::size_t c, SectionFlow const& flow) const {
    return lean_out_[c] * flow.along_row[c];
  }

  /// What leaves the row at cell c for the next one. @param T of that row
  void add_radial(std::size_t c, double const* T, SectionFlow& flow) const {
    auto const m = mesh_.columns(), d = c + m;
    auto* const heat = flow.heat.data();
    auto const* const G = flow.radial.data() + c;
    if (!aslant_) return rows::add_radial(m, G, T, T + m, heat + c, heat + d);
    auto const* const along = flow.along_row.data();
    auto* const column = flow.along_column.data();
    auto const at = [](std::vector<double> const& v, std::size_t cell) { return v.data() + cell; };
    rows::Faces const faces{
        G,           at(lean_out_, c),      at(lean_in_, d),       along + c,
        along + d,   at(flow.per_outer, c), at(flow.per_inner, d), at(mesh_.slope, d),
        at(half_, d)};
    rows::add_radial(m, faces, T, T + m, heat + c, heat + d, column + c, column + d);
  }

  /// Each cell's gradient along its row.
  void set_along_row(std::span<double const> T, SectionFlow& flow) const {
    std::fill(flow.along_column.begin(), flow.along_column.end(), 0.0);
    auto const m = mesh_.columns();
    for (std::size_t c = 0; c < size(); c += m) {
      rows::set_edges(m, flow.across.data() + c, T.data() + c, flow.edge.data());
      rows::set_along(m, flow.edge.data(), flow.per_edge.data() + c, flow.along_row.data() + c);
    }
  }
  /// Half of a cell's gradient along its column, from a surface that carries `flux` / k.
  void add_along_column(std::size_t c, double p, double flux_over_k, SectionFlow& flow) const {
    flow.along_column[c] += 0.5 * (flux_over_k + p * flow.along_row[c]) / (1.0 + p * p);
  }

  void set_surfaces(double t, std::span<double const> T, std::span<double const> factor,
                    SectionFlow& flow) const {
    auto const m = mesh_.columns(), last = size() - m;
    flow.heat_in = flow.heat_out = 0.0;
    for (std::size_t j = 0; j < m; ++j) {
      auto const c = last + j;
      double const p_in = mesh_.slope[j], p_out = mesh_.slope[size() + j];
      flow.inner_cell[j] = T[j] - (aslant_ ? shift_in(j, flow) : 0.0);
      flow.outer_cell[j] = T[c] + (aslant_ ? shift_out(c, flow) : 0.0);
      flow.inner[j] = surface_load(inner_[j], t, inner_area_[j] * std::sqrt(1.0 + p_in * p_in),
                                   inner_half_[j] / factor[j], flow.inner_cell[j]);
      flow.outer[j] = surface_load(outer_[j], t, outer_area_[c] * std::sqrt(1.0 + p_out * p_out),
                                   outer_half_[c] / factor[c], flow.outer_cell[j]);
      double const in = flow.inner[j].heat(flow.inner_cell[j]);
      double const out = flow.outer[j].heat(flow.outer_cell[j]);
      flow.heat[j] += in;
      flow.heat[c] += out;
      flow.heat_in += in;
      flow.heat_out += out;
      if (aslant_) {
        add_along_column(j, p_in, -in * flow.per_inner[j], flow);
        add_along_column(c, p_out, out * flow.per_outer[c], flow);
      }
    }
  }

  void set_films(std::span<double const> T, SectionFlow& flow) const {
    auto const m = mesh_.columns();
    for (std::size_t k = 0; k < film_.size(); ++k) {
      auto const c = film_[k].cell, d = c + m;
      double const to_c = aslant_ ? shift_out(c, flow) : 0.0,
                   to_d = aslant_ ? shift_in(d, flow) : 0.0;
      double const in = flow.film[k].inner * (film_[k].temperature - T[c] - to_c);
      double const out = flow.film[k].outer * (film_[k].temperature - T[d] + to_d);
      flow.heat[c] += in;
      flow.heat[d] += out;
      flow.heat_out += in + out;
      if (aslant_) {  // what its slope does, add_radial adds
        flow.along_column[c] += half_[d] * in * flow.per_outer[c];
        flow.along_column[d] -= half_[d] * out * flow.per_inner[d];
      }
    }
  }

  struct FilmCell {
    std::size_t cell;  ///< inside it
    double h, temperature;
  };

  SectionMesh mesh_;
  std::vector<Boundary> inner_, outer_;
  std::vector<FilmCell> film_;
  bool aslant_ = false;
  std::vector<double> volume_, capacity_, k_;
  std::vector<double> inner_half_, outer_half_, contact_, across_half_;  ///< resistances [K/W]
  std::vector<double> inner_area_, outer_area_, edge_area_;              ///< [m2]
  std::vector<double> lean_in_, lean_out_, lean_across_;                 ///< [m]
  std::vector<double> half_;  ///< 0.5/(1 + p^2) of each cell's inner face [-]
};

}  // namespace cure::heat
