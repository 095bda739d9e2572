#pragma once
/// The coupled wall: conduction through all layers, cure in one of them.
///   C_i dT_i/dt = conducted_i + S_i d(alpha_i)/dt,   d(alpha_i)/dt = f(T_i, alpha_i)
/// with S_i = resin volume fraction * resin density * heat of reaction * cell volume [J].
///
/// State: [T of the n cells | alpha of the m reacting cells | each further cure state of them |
/// heat in through the inner surface | through the outer surface]. The two heats are integrated
/// with the same method, so that the energy balance closes to round-off whatever the step size.
/// Where properties vary, u stands in place of T (see cell_properties.hpp).
///
/// In a linearly implicit stage the cure states are eliminated cell by cell (K = A + B K_T), and
/// what remains is one symmetric tridiagonal system in T, factorised once a step.

#include <algorithm>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/heat/conduction.hpp"
#include "cure/kinetics/cure_block.hpp"
#include "cure/numerics/chain_system.hpp"
#include "cure/process/cell_properties.hpp"
#include "cure/process/wall_measures.hpp"

namespace cure::process {

class Wall {
 public:
  /// @param reacting index of the curing layer in the mesh, or mesh.layers.size() for none
  /// @param source heat of full cure per volume of that layer [J/m3]
  Wall(heat::Conduction conduction, kinetics::CureRate<double> rate, std::size_t reacting,
       double source, Tolerance tolerance, LaminateProperties properties = {})
      : conduction_(std::move(conduction)),
        first_(first_cell(conduction_.mesh(), reacting)),
        reacting_(first_cell(conduction_.mesh(), reacting + 1) - first_),
        cure_(std::move(rate), reacting_),
        tolerance_(tolerance),
        properties_(properties, numbered(first_, reacting_), laws(conduction_)),
        variable_(!properties_.constant()),
        loops_(&numerics::row_loops()),
        chain_(conduction_.size()) {
    for (std::size_t j = 0; j < reacting_; ++j) {
      source_.push_back(source * conduction_.mesh().volume[first_ + j]);
    }
    auto const C = conduction_.capacity();
    for (double const c : C) inverse_C_.push_back(1.0 / c);
    for (std::size_t j = 0; j < reacting_; ++j) warms_.push_back(source_[j] / C[first_ + j]);
    excess_.resize(cells());
    if (!variable_) {
      chain_.set(C, G());
      if (heat::steady(conduction_.inner())) steady_inner_ = conduction_.inner_load(0.0, 0.0);
      if (heat::steady(conduction_.outer())) steady_outer_ = conduction_.outer_load(0.0, 0.0);
    } else {
      frozen_.resize(cells() - 1);
      stored_.resize(cells());
      T_.resize(cells());
      G_.resize(cells() - 1);
      k_factor_.assign(cells(), 1.0);
    }
  }

  [[nodiscard]] std::size_t cells() const { return conduction_.size(); }
  [[nodiscard]] std::size_t reacting_cells() const { return reacting_; }
  [[nodiscard]] std::size_t first_reacting() const { return first_; }
  /// Cure states of each reacting cell.
  [[nodiscard]] std::size_t states() const { return cure_.states(); }
  [[nodiscard]] std::size_t size() const { return heat_in() + 2; }
  [[nodiscard]] heat::Conduction const& conduction() const { return conduction_; }

  /// Whether nothing changes from outside and linearise keeps the whole Jacobian.
  [[nodiscard]] bool steady() const { return steady_inner_ && steady_outer_; }

  /// State from temperatures [K] and cure states, in place.
  void to_state(std::span<double> y) const { properties_.to_state(y); }
  /// Temperatures from a state and their slopes from its slopes, in place.
  void to_temperature(std::span<double> y, std::span<double> f) const {
    properties_.to_temperature(y, f);
  }

  void linearise(double t, std::span<double const> y, std::span<double> f) {
    auto const T = temperatures(y);
    inner_ = inner_load(t, T);
    outer_ = outer_load(t, T);
    T_first_ = T[0];
    T_last_ = T[cells() - 1];
    if (variable_) {
      std::copy(G_.begin(), G_.end(), frozen_.begin());
      properties_.linearise(T, y);
      auto const C = conduction_.capacity(), factor = properties_.capacity_factor();
      for (std::size_t i = 0; i < cells(); ++i) stored_[i] = C[i] * factor[i];
      chain_.set(C, frozen_);
    }
    cure_.linearise(T.subspan(first_, reacting_), block(y), block(f));
    heat_slopes(T, inner_, outer_, f);
  }

  void evaluate(double t, std::span<double const> y, std::span<double> f) {
    auto const T = temperatures(y);
    cure_.evaluate(T.subspan(first_, reacting_), block(y), block(f));
    heat_slopes(T, inner_load(t, T), outer_load(t, T), f);
  }

  [[nodiscard]] bool time_derivative(std::span<double> f) const {
    double const in = inner_.dQ - inner_.dG * T_first_;
    double const out = outer_.dQ - outer_.dG * T_last_;
    if (in == 0.0 && out == 0.0) return false;
    auto const n = cells();
    std::fill(f.begin(), f.end(), 0.0);
    f[0] += in * inverse_C_[0];
    f[n - 1] += out * inverse_C_[n - 1];
    f[heat_in()] = in;
    f[heat_in() + 1] = out;
    return true;
  }

  [[nodiscard]] bool factorise(double d) {
    auto const n = cells();
    d_ = d;
    if (!cure_.factorise(d)) return false;
    auto const C = stored(), B = cure_.B();
    loops_->excess_of_cells(d, C.data(), n, source_.data(), B.data(), first_, reacting_,
                            excess_.data());
    if (variable_) {
      // K_u = (K_T - T_alpha K_alpha) C/C_ref is what the cell stores.
      auto const T_alpha = properties_.T_alpha();
      for (std::size_t j = 0; j < reacting_; ++j) {
        auto const i = first_ + j;
        excess_[i] -= C[i] * d * T_alpha[j] * B[j];
      }
    }
    excess_.front() += inner_.G;
    excess_.back() += outer_.G;
    return chain_.factorise(excess_, numerics::least_row_pivot * d);
  }

  void solve(std::span<double> x) {
    auto const n = cells();
    cure_.reduce(block(x), warms_, x.subspan(first_, reacting_));
    if (variable_) {
      auto const C = stored(), T_alpha = properties_.T_alpha();
      for (std::size_t j = 0; j < reacting_; ++j) {
        auto const i = first_ + j;
        x[i] += C[i] * inverse_C_[i] * d_ * T_alpha[j] * x[n + j];
      }
    }
    chain_.solve(x.first(n));
    cure_.complete(x.subspan(first_, reacting_), block(x));
    auto& in = x[heat_in()];
    auto& out = x[heat_in() + 1];
    in = (in - inner_.G * x[0]) / d_;
    out = (out - outer_.G * x[n - 1]) / d_;
    if (variable_) properties_.to_state_change(x);
  }

  [[nodiscard]] double error_norm(std::span<double const> error, std::span<double const> y) const {
    return step_error(*loops_, tolerance_, error, y, cells(), reacting_, heat_in());
  }

  /// The hottest cell, named, for the message of a run that stopped.
  [[nodiscard]] std::string worst(std::span<double const> y) const {
    std::vector<double> state(y.begin(), y.end()), slopes(y.size());
    to_temperature(state, slopes);
    auto const T = std::span(state).first(cells());
    auto const hottest = static_cast<std::size_t>(std::max_element(T.begin(), T.end()) - T.begin());
    auto const& mesh = conduction_.mesh();
    auto const layer = mesh.layer[hottest];
    return mesh.layers[layer].name + " cell " + std::to_string(hottest - mesh.first[layer] + 1) +
           " of " + std::to_string(mesh.layers[layer].cells) +
           ", r = " + std::to_string(mesh.node[hottest] * 1e3) +
           " mm, T = " + std::to_string(T[hottest]) + " K";
  }

  /// See wall_measures.hpp; both arguments are states [-].
  [[nodiscard]] double energy_residual(std::span<double const> y0,
                                       std::span<double const> y) const {
    return process::energy_residual(conduction_.capacity(), source_, y0, y, heat_in());
  }

 private:
  static std::size_t first_cell(heat::Mesh const& mesh, std::size_t layer) {
    return layer < mesh.first.size() ? mesh.first[layer] : mesh.size();
  }

  static std::vector<std::size_t> numbered(std::size_t first, std::size_t n) {
    std::vector<std::size_t> cells(n);
    for (std::size_t j = 0; j < n; ++j) cells[j] = first + j;
    return cells;
  }
  static std::vector<CellProperties::Law> laws(heat::Conduction const& conduction) {
    std::vector<CellProperties::Law> of;
    for (std::size_t i = 0; i < conduction.size(); ++i) {
      of.push_back(conduction.material(i).varying);
    }
    return of;
  }

  /// Index of the heat in through the inner surface.
  [[nodiscard]] std::size_t heat_in() const { return cells() + cure_.size(); }

  template <class T>
  [[nodiscard]] std::span<T> block(std::span<T> y) const {
    return y.subspan(cells(), cure_.size());
  }

  [[nodiscard]] heat::SurfaceLoad inner_load(double t, std::span<double const> T) const {
    if (steady_inner_) return *steady_inner_;
    return conduction_.inner_load(t, T.front(), variable_ ? k_factor_.front() : 1.0);
  }
  [[nodiscard]] heat::SurfaceLoad outer_load(double t, std::span<double const> T) const {
    if (steady_outer_) return *steady_outer_;
    return conduction_.outer_load(t, T.back(), variable_ ? k_factor_.back() : 1.0);
  }

  /// Heat capacities at the linearisation [J/K].
  [[nodiscard]] std::span<double const> stored() const {
    return variable_ ? std::span<double const>(stored_) : conduction_.capacity();
  }

  /// Conductances at the temperatures last asked for [W/K].
  [[nodiscard]] std::span<double const> G() const {
    return variable_ ? std::span<double const>(G_) : conduction_.conductance();
  }

  /// Temperatures of all cells [K]; with properties that vary this also takes the conductances
  /// anew.
  [[nodiscard]] std::span<double const> temperatures(std::span<double const> y) {
    if (!variable_) return y.first(cells());
    properties_.read(y, T_, k_factor_);
    conduction_.scaled_conductance(k_factor_, G_);
    return T_;
  }

  /// Slopes of the temperatures and surface heats; those of the cure states stand in f already.
  void heat_slopes(std::span<double const> T, heat::SurfaceLoad const& inner,
                   heat::SurfaceLoad const& outer, std::span<double> f) const {
    auto const n = cells();
    double const in = inner.Q - inner.G * T[0];
    double const out = outer.Q - outer.G * T[n - 1];
    loops_->net_flow(G().data(), T.data(), in, out, inverse_C_.data(), f.data(), n);
    for (std::size_t j = 0; j < reacting_; ++j) f[first_ + j] += warms_[j] * f[n + j];
    f[heat_in()] = in;
    f[heat_in() + 1] = out;
  }

  heat::Conduction conduction_;
  std::size_t first_, reacting_;
  kinetics::CureBlock cure_;
  Tolerance tolerance_;
  CellProperties properties_;
  bool variable_;
  std::vector<double> source_;
  std::vector<double> inverse_C_;  ///< [K/J]
  std::vector<double> warms_;      ///< rise of each reacting cell by full cure without loss [K]
  std::optional<heat::SurfaceLoad> steady_inner_, steady_outer_;  ///< where they never change
  heat::SurfaceLoad inner_, outer_;
  double T_first_ = 0.0, T_last_ = 0.0, d_ = 1.0;
  numerics::RowLoops const* loops_;
  numerics::ChainSystem chain_;
  std::vector<double> excess_;
  std::vector<double> frozen_, stored_;   ///< conductances and capacities at the linearisation
  std::vector<double> T_, G_, k_factor_;  ///< at the last evaluation
};

}  // namespace cure::process
