#pragma once
/// The coupled wall: conduction through all layers, cure in one of them.
///   C_i dT_i/dt = conducted_i + S_i d(alpha_i)/dt,   d(alpha_i)/dt = f(T_i, alpha_i)
/// with S_i = resin volume fraction * resin density * heat of reaction * cell volume [J]. What is
/// in a state: coupled_wall.hpp.
///
/// In a linearly implicit stage the cure states are eliminated cell by cell (K = A + B K_T), and
/// what remains is one symmetric tridiagonal system in T, factorised once a step.

#include <algorithm>
#include <cstddef>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "cure/heat/conduction.hpp"
#include "cure/numerics/symmetric_tridiagonal.hpp"
#include "cure/process/coupled_wall.hpp"

namespace cure::process {

class Wall : public CoupledWall<heat::Conduction> {
 public:
  /// @param reacting index of the curing layer in the mesh, or mesh.layers.size() for none
  /// @param source heat of full cure per volume of that layer [J/m3]
  Wall(heat::Conduction conduction, kinetics::CureRate<double> rate, std::size_t reacting,
       double source, Tolerance tolerance, LaminateProperties properties = {})
      : CoupledWall(
            std::move(conduction),
            [reacting](heat::Mesh const& m, std::size_t i) { return m.layer[i] == reacting; },
            std::move(rate), source, tolerance, properties),
        first_(resin_.empty() ? cells() : resin_.front()),
        reacting_(resin_.size()),
        chain_(cells()) {
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

  /// Whether nothing changes from outside and linearise keeps the whole Jacobian.
  [[nodiscard]] bool steady() const { return steady_inner_ && steady_outer_; }

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
    double const in = inner_.heat_change(T_first_), out = outer_.heat_change(T_last_);
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

 private:
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
    double const in = inner.heat(T[0]), out = outer.heat(T[n - 1]);
    loops_->net_flow(G().data(), T.data(), in, out, inverse_C_.data(), f.data(), n);
    for (std::size_t j = 0; j < reacting_; ++j) f[first_ + j] += warms_[j] * f[n + j];
    f[heat_in()] = in;
    f[heat_in() + 1] = out;
  }

  std::size_t first_, reacting_;   ///< of the reacting cells, which are consecutive
  std::vector<double> inverse_C_;  ///< [K/J]
  std::vector<double> warms_;      ///< rise of each reacting cell by full cure without loss [K]
  std::optional<heat::SurfaceLoad> steady_inner_, steady_outer_;  ///< where they never change
  heat::SurfaceLoad inner_, outer_;
  double T_first_ = 0.0, T_last_ = 0.0;
  numerics::SymmetricTridiagonal chain_;
  std::vector<double> excess_;
  std::vector<double> frozen_, stored_;   ///< conductances and capacities at the linearisation
  std::vector<double> T_, G_, k_factor_;  ///< at the last evaluation
};

}  // namespace cure::process
