#pragma once
/// The coupled wall: conduction through all layers, cure in one of them.
///   C_i dT_i/dt = conducted_i + S_i d(alpha_i)/dt,   d(alpha_i)/dt = f(T_i, alpha_i)
/// with S_i = resin volume fraction * resin density * heat of reaction * cell volume [J].
///
/// State: [T_0 .. T_{n-1} | alpha of the m reacting cells | heat in through the inner surface |
/// through the outer surface]. The two heats are integrated with the same method, so that the
/// energy balance closes to round-off whatever the step size.
///
/// alpha has no spatial coupling: in a linearly implicit stage it is eliminated cell by cell, and
/// what remains is one symmetric tridiagonal system in T, factorised once a step.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/heat/conduction.hpp"
#include "cure/kinetics/rate_law.hpp"
#include "cure/units.hpp"

namespace cure::process {

/// Local error allowed in one step.
struct Tolerance {
  double temperature = 5e-3;  ///< [K]
  double alpha = 2e-5;        ///< [-]
};

class Wall {
 public:
  /// @param reacting index of the curing layer in the mesh, or mesh.layers.size() for none
  /// @param source heat of full cure per volume of that layer [J/m3]
  Wall(heat::Conduction conduction, kinetics::CureRate<double> rate, std::size_t reacting,
       double source, Tolerance tolerance)
      : conduction_(std::move(conduction)), rate_(std::move(rate)), tolerance_(tolerance) {
    auto const& mesh = conduction_.mesh();
    if (reacting < mesh.layers.size()) {
      first_ = mesh.first[reacting];
      reacting_ = mesh.first[reacting + 1] - first_;
    }
    for (std::size_t j = 0; j < reacting_; ++j) {
      source_.push_back(source * mesh.volume[first_ + j]);
    }
    auto const n = cells();
    point_.resize(reacting_);
    stage_.resize(reacting_);
    pivot_.resize(n);
    multiplier_.resize(n);
    shift_.resize(reacting_);
  }

  [[nodiscard]] std::size_t cells() const { return conduction_.size(); }
  [[nodiscard]] std::size_t reacting_cells() const { return reacting_; }
  [[nodiscard]] std::size_t first_reacting() const { return first_; }
  [[nodiscard]] std::size_t size() const { return cells() + reacting_ + 2; }
  [[nodiscard]] heat::Conduction const& conduction() const { return conduction_; }
  [[nodiscard]] std::span<double const> source() const { return source_; }

  void linearise(double t, std::span<double const> y, std::span<double> f) {
    inner_ = conduction_.inner_load(t);
    outer_ = conduction_.outer_load(t);
    T_first_ = y[0];
    T_last_ = y[cells() - 1];
    rates(y, point_);
    slopes(y, inner_, outer_, point_, f);
  }

  void evaluate(double t, std::span<double const> y, std::span<double> f) {
    rates(y, stage_);
    slopes(y, conduction_.inner_load(t), conduction_.outer_load(t), stage_, f);
  }

  void time_derivative(std::span<double> f) const {
    auto const n = cells();
    auto const C = conduction_.capacity();
    std::fill(f.begin(), f.end(), 0.0);
    double const in = inner_.dQ - inner_.dG * T_first_;
    double const out = outer_.dQ - outer_.dG * T_last_;
    f[0] += in / C[0];
    f[n - 1] += out / C[n - 1];
    f[n + reacting_] = in;
    f[n + reacting_ + 1] = out;
  }

  [[nodiscard]] bool factorise(double d) {
    auto const n = cells();
    auto const C = conduction_.capacity();
    auto const G = conduction_.conductance();
    d_ = d;
    for (std::size_t j = 0; j < reacting_; ++j) {
      double const own = d - point_[j].dalpha;
      // Autocatalysis can outrun the step; too long a step is then refused, not solved wrongly.
      if (!(own > 0.1 * d)) return false;
      shift_[j] = 1.0 / own;
    }
    double above = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      double diagonal = C[i] * d;
      if (i > 0) diagonal += G[i - 1];
      if (i + 1 < n) diagonal += G[i];
      if (i == 0) diagonal += inner_.G;
      if (i + 1 == n) diagonal += outer_.G;
      if (i >= first_ && i < first_ + reacting_) {
        auto const j = i - first_;
        diagonal -= source_[j] * point_[j].dT * d * shift_[j];
      }
      double const pivot = diagonal - above;
      if (!(pivot > 1e-3 * C[i] * d)) return false;
      pivot_[i] = 1.0 / pivot;
      if (i + 1 < n) {
        multiplier_[i] = G[i] * pivot_[i];
        above = G[i] * multiplier_[i];
      }
    }
    return true;
  }

  void solve(std::span<double> x) const {
    auto const n = cells();
    auto const C = conduction_.capacity();
    for (std::size_t i = 0; i < n; ++i) x[i] *= C[i];
    for (std::size_t j = 0; j < reacting_; ++j) {
      x[first_ + j] += source_[j] * point_[j].dalpha * shift_[j] * x[n + j];
    }
    for (std::size_t i = 0; i + 1 < n; ++i) x[i + 1] += multiplier_[i] * x[i];
    x[n - 1] *= pivot_[n - 1];
    for (std::size_t i = n - 1; i-- > 0;) x[i] = x[i] * pivot_[i] + multiplier_[i] * x[i + 1];
    for (std::size_t j = 0; j < reacting_; ++j) {
      x[n + j] = (x[n + j] + point_[j].dT * x[first_ + j]) * shift_[j];
    }
    auto& in = x[n + reacting_];
    auto& out = x[n + reacting_ + 1];
    in = (in - inner_.G * x[0]) / d_;
    out = (out - outer_.G * x[n - 1]) / d_;
  }

  /// Largest error of any cell in units of the tolerance; infinite outside 0 <= alpha <= 1.
  [[nodiscard]] double error_norm(std::span<double const> error, std::span<double const> y) const {
    auto const n = cells();
    double worst = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      worst = std::max(worst, std::abs(error[i]) / tolerance_.temperature);
    }
    for (std::size_t j = 0; j < reacting_; ++j) {
      worst = std::max(worst, std::abs(error[n + j]) / tolerance_.alpha);
      double const alpha = y[n + j];
      double const slack = 10.0 * tolerance_.alpha;
      if (alpha < -slack || alpha > 1.0 + slack) return std::numeric_limits<double>::infinity();
    }
    return worst;
  }

  /// The hottest cell, named, for the message of a run that stopped.
  [[nodiscard]] std::string worst(std::span<double const> y) const {
    auto const hottest = static_cast<std::size_t>(
        std::max_element(y.begin(), y.begin() + static_cast<std::ptrdiff_t>(cells())) - y.begin());
    auto const& mesh = conduction_.mesh();
    auto const layer = mesh.layer[hottest];
    return mesh.layers[layer].name + " cell " + std::to_string(hottest - mesh.first[layer] + 1) +
           " of " + std::to_string(mesh.layers[layer].cells) +
           ", r = " + std::to_string(mesh.node[hottest] * 1e3) +
           " mm, T = " + std::to_string(y[hottest]) + " K";
  }

  /// Heat stored since `y0` less heat released by cure and heat let in, over the sum of their
  /// magnitudes [-]: zero but for round-off.
  [[nodiscard]] double energy_residual(std::span<double const> y0,
                                       std::span<double const> y) const {
    auto const n = cells();
    auto const C = conduction_.capacity();
    double balance = 0.0, scale = 0.0;
    auto const take = [&](double heat) {
      balance += heat;
      scale += std::abs(heat);
    };
    for (std::size_t i = 0; i < n; ++i) take(C[i] * (y[i] - y0[i]));
    for (std::size_t j = 0; j < reacting_; ++j) take(-source_[j] * (y[n + j] - y0[n + j]));
    for (std::size_t k = n + reacting_; k < size(); ++k) take(-(y[k] - y0[k]));
    return scale > 0.0 ? std::abs(balance) / scale : 0.0;
  }

 private:
  void rates(std::span<double const> y, std::vector<Partial<double>>& out) const {
    rate_.at(y.subspan(first_, reacting_), y.subspan(cells(), reacting_), out);
  }

  void slopes(std::span<double const> y, heat::SurfaceLoad const& inner,
              heat::SurfaceLoad const& outer, std::vector<Partial<double>> const& rate,
              std::span<double> f) const {
    auto const n = cells();
    auto const C = conduction_.capacity();
    double const in = inner.Q - inner.G * y[0];
    double const out = outer.Q - outer.G * y[n - 1];
    std::fill(f.begin(), f.begin() + static_cast<std::ptrdiff_t>(n), 0.0);
    conduction_.add_conducted(y.first(n), f.first(n));
    f[0] += in;
    f[n - 1] += out;
    for (std::size_t j = 0; j < reacting_; ++j) {
      f[first_ + j] += source_[j] * rate[j].value;
      f[n + j] = rate[j].value;
    }
    for (std::size_t i = 0; i < n; ++i) f[i] /= C[i];
    f[n + reacting_] = in;
    f[n + reacting_ + 1] = out;
  }

  heat::Conduction conduction_;
  kinetics::CureRate<double> rate_;
  Tolerance tolerance_;
  std::size_t first_ = 0, reacting_ = 0;
  std::vector<double> source_;
  std::vector<Partial<double>> point_, stage_;
  heat::SurfaceLoad inner_, outer_;
  double T_first_ = 0.0, T_last_ = 0.0, d_ = 1.0;
  std::vector<double> pivot_, multiplier_, shift_;
};

}  // namespace cure::process
