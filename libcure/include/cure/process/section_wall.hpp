#pragma once
/// The coupled wall in two dimensions, around a pipe or along it: the equations and the cure of
/// Wall (see wall.hpp), on the mesh of section_mesh.hpp, cells row by row. Heat from films counts
/// as heat in through the outer surface.
///
/// An implicit stage needs (d - J). Along the radius J is taken whole, with cure eliminated cell by
/// cell; across, it is split off:
///   d - J  ~  (d - J_radial)(1 - J_across/d)
/// so that each factor is a set of tridiagonal systems (approximate matrix factorisation; e.g. W.
/// Hundsdorfer, J.G. Verwer, "Numerical Solution of Time-Dependent Advection-Diffusion-Reaction
/// Equations", Springer 2003, sec. IV.5). ROS34PW2 keeps its order with any J, and its stability
/// function stays within 1 for every pair of decaying modes. Both factors conserve energy.

#include <algorithm>
#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/heat/section_conduction.hpp"
#include "cure/numerics/tridiagonal.hpp"
#include "cure/process/coupled_wall.hpp"

namespace cure::process {

class SectionWall : public CoupledWall<heat::SectionConduction> {
 public:
  /// @param reacting name of the curing layer; a column in which that place has another name (a
  /// bare gap) does not cure there
  /// @param source heat of full cure per volume of that layer [J/m3]
  SectionWall(heat::SectionConduction conduction, kinetics::CureRate<double> rate,
              std::string const& reacting, double source, Tolerance tolerance,
              LaminateProperties properties = {})
      : CoupledWall(
            std::move(conduction),
            [&](heat::SectionMesh const& m, std::size_t i) { return m.layer(i).name == reacting; },
            std::move(rate), source, tolerance, properties),
        frozen_(conduction_.make_flow()),
        stage_(frozen_),
        radial_(conduction_.mesh().columns()),
        across_(conduction_.mesh().columns(), conduction_.mesh().closed) {
    auto const n = cells();
    for (auto* v : {&stored_, &diagonal_, &least_, &T_}) v->assign(n, 0.0);
    factor_.assign(n, 1.0);
    for (auto* v : {&resin_T_, &released_}) v->assign(resin_.size(), 0.0);
  }

  /// See Wall: here the Jacobian is always split.
  [[nodiscard]] static constexpr bool steady() { return false; }

  void linearise(double t, std::span<double const> y, std::span<double> f) {
    take_temperatures(y, frozen_);
    if (variable_) properties_.linearise(T_, y);
    cure_.linearise(resin_T_, block(y), block(f));
    heat_slopes(t, frozen_, f);
  }

  void evaluate(double t, std::span<double const> y, std::span<double> f) {
    take_temperatures(y, stage_);
    cure_.evaluate(resin_T_, block(y), block(f));
    heat_slopes(t, stage_, f);
  }

  /// What the surfaces' changes do to their own cells; where faces are aslant their small share in
  /// the neighbours is left out, which a W-method forgives.
  [[nodiscard]] bool time_derivative(std::span<double> f) const {
    auto const m = columns(), last = cells() - m;
    auto const C = conduction_.capacity();
    std::fill(f.begin(), f.end(), 0.0);
    for (std::size_t j = 0; j < m; ++j) {
      double const in = frozen_.inner[j].heat_change(frozen_.inner_cell[j]);
      double const out = frozen_.outer[j].heat_change(frozen_.outer_cell[j]);
      f[j] += in / C[j];
      f[last + j] += out / C[last + j];
      f[heat_in()] += in;
      f[heat_in() + 1] += out;
    }
    return true;
  }

  [[nodiscard]] bool factorise(double d) {
    d_ = d;
    if (!cure_.factorise(d)) return false;
    auto const m = columns(), n = cells();
    auto const C = conduction_.capacity();
    auto const factor = properties_.capacity_factor(), T_alpha = properties_.T_alpha();
    for (std::size_t c = 0; c < n; ++c) {
      stored_[c] = diagonal_[c] = C[c] * d * (variable_ ? factor[c] : 1.0);
      least_[c] = numerics::least_row_pivot * stored_[c];
    }
    for (std::size_t j = 0; j < resin_.size(); ++j) {
      auto const c = resin_[j];
      double const B = cure_.B()[j];
      // K_u = (K_T - T_alpha K_alpha) C/C_ref is what the cell stores.
      diagonal_[c] = stored_[c] * (1.0 - T_alpha[j] * B) - source_[j] * d * B;
    }
    for (std::size_t j = 0; j < m; ++j) {
      diagonal_[j] += frozen_.inner[j].G;
      diagonal_[n - m + j] += frozen_.outer[j].G;
    }
    for (auto const& film : frozen_.film) {
      diagonal_[film.cell] += film.inner;
      diagonal_[film.cell + m] += film.outer;
    }
    if (!radial_.factorise(diagonal_, frozen_.radial, least_)) return false;
    across_.factorise(stored_, frozen_.across);
    return true;
  }

  void solve(std::span<double> x) {
    auto const n = cells();
    auto const C = conduction_.capacity();
    for (std::size_t c = 0; c < n; ++c) x[c] *= C[c];
    std::fill(released_.begin(), released_.end(), 0.0);
    cure_.reduce(block(x), source_, released_);
    auto const T_alpha = properties_.T_alpha();
    for (std::size_t j = 0; j < resin_.size(); ++j) {
      auto const c = resin_[j];
      x[c] += released_[j] + stored_[c] * T_alpha[j] * x[n + j];
    }
    radial_.solve(x.first(n));
    for (std::size_t j = 0; j < resin_.size(); ++j) resin_T_[j] = x[resin_[j]];
    cure_.complete(resin_T_, block(x));
    auto const m = columns();
    auto& in = x[heat_in()];
    auto& out = x[heat_in() + 1];
    for (std::size_t j = 0; j < m; ++j) {
      in -= frozen_.inner[j].G * x[j];
      out -= frozen_.outer[j].G * x[n - m + j];
    }
    for (auto const& film : frozen_.film) {
      out -= film.inner * x[film.cell] + film.outer * x[film.cell + m];
    }
    in /= d_;
    out /= d_;
    // What was solved so far is stored in the cells and spreads across; no heat is lost.
    for (std::size_t c = 0; c < n; ++c) x[c] *= stored_[c];
    across_.solve(x.first(n));
    if (variable_) properties_.to_state_change(x);
  }

 private:
  [[nodiscard]] std::size_t columns() const { return conduction_.mesh().columns(); }
  /// Temperatures of a state into T_ and resin_T_, with the conductances that follow from them.
  void take_temperatures(std::span<double const> y, heat::SectionFlow& flow) {
    properties_.read(y, T_, factor_);
    for (std::size_t j = 0; j < resin_.size(); ++j) resin_T_[j] = T_[resin_[j]];
    if (variable_) conduction_.set_conductances(factor_, flow);
  }

  /// Slopes of the temperatures and surface heats; those of the cure states stand in f already.
  void heat_slopes(double t, heat::SectionFlow& flow, std::span<double> f) const {
    auto const C = conduction_.capacity();
    conduction_.set_heats(t, T_, factor_, flow);
    for (std::size_t c = 0; c < cells(); ++c) f[c] = flow.heat[c] / C[c];
    for (std::size_t j = 0; j < resin_.size(); ++j) {
      f[resin_[j]] += source_[j] * f[cells() + j] / C[resin_[j]];
    }
    f[heat_in()] = flow.heat_in;
    f[heat_in() + 1] = flow.heat_out;
  }

  heat::SectionFlow frozen_, stage_;  ///< at the linearisation, and at the last evaluation
  std::vector<double> stored_;        ///< d times heat capacity [W/K]
  std::vector<double> diagonal_;      ///< of (d - J_radial), less its conductances [W/K]
  std::vector<double> least_;         ///< smallest pivot allowed [W/K]
  numerics::ColumnSystems radial_;
  numerics::RowSystems across_;
  std::vector<double> T_, factor_, resin_T_;  ///< at the last evaluation
  std::vector<double> released_;              ///< by cure in a stage, beyond its right-hand side
};

}  // namespace cure::process
