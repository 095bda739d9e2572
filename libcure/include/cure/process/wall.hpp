#pragma once
/// The coupled wall: conduction through all layers, cure in one of them.
///   C_i dT_i/dt = conducted_i + S_i d(alpha_i)/dt,   d(alpha_i)/dt = f(T_i, alpha_i)
/// with S_i = resin volume fraction * resin density * heat of reaction * cell volume [J].
///
/// State: [T of the n cells | alpha of the m reacting cells | each further cure state of them |
/// heat in through the inner surface | through the outer surface]. The two heats are integrated
/// with the same method, so that the energy balance closes to round-off whatever the step size.
///
/// Cure states have no spatial coupling: in a linearly implicit stage they are eliminated cell by
/// cell (with K = B K_T + A from their own rows), and what remains is one symmetric tridiagonal
/// system in T, factorised once a step.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/heat/conduction.hpp"
#include "cure/kinetics/cure_rate.hpp"
#include "cure/units.hpp"

namespace cure::process {

/// Local error allowed in one step.
struct Tolerance {
  double temperature = 5e-3;  ///< [K]
  double alpha = 1e-6;        ///< [-]; a runaway multiplies early errors a hundredfold
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
    states_ = rate_.states();
    point_.resize(reacting_);
    stage_.resize(reacting_);
    shift_.resize(reacting_);
    if (states_ > 1) {
      jacobian_.resize(reacting_);
      eliminated_.resize(reacting_);
    }
    pivot_.resize(cells());
    multiplier_.resize(cells());
  }

  [[nodiscard]] std::size_t cells() const { return conduction_.size(); }
  [[nodiscard]] std::size_t reacting_cells() const { return reacting_; }
  [[nodiscard]] std::size_t first_reacting() const { return first_; }
  /// Cure states of each reacting cell.
  [[nodiscard]] std::size_t states() const { return states_; }
  [[nodiscard]] std::size_t size() const { return heat_in() + 2; }
  [[nodiscard]] heat::Conduction const& conduction() const { return conduction_; }
  [[nodiscard]] std::span<double const> source() const { return source_; }

  void linearise(double t, std::span<double const> y, std::span<double> f) {
    inner_ = conduction_.inner_load(t);
    outer_ = conduction_.outer_load(t);
    T_first_ = y[0];
    T_last_ = y[cells() - 1];
    if (states_ == 1) {
      rate_.at(y.subspan(first_, reacting_), y.subspan(cells(), reacting_), point_);
      for (std::size_t j = 0; j < reacting_; ++j) f[cells() + j] = point_[j].value;
    } else {
      for (std::size_t j = 0; j < reacting_; ++j) {
        auto const x = cure_states(y, j);
        jacobian_[j] = rate_.at(y[first_ + j], x.data());
        put_states(jacobian_[j].f, j, f);
      }
    }
    heat_slopes(y, inner_, outer_, f);
  }

  void evaluate(double t, std::span<double const> y, std::span<double> f) {
    if (states_ == 1) {
      rate_.at(y.subspan(first_, reacting_), y.subspan(cells(), reacting_), stage_);
      for (std::size_t j = 0; j < reacting_; ++j) f[cells() + j] = stage_[j].value;
    } else {
      std::array<double, kinetics::max_states> slope{};
      for (std::size_t j = 0; j < reacting_; ++j) {
        auto const x = cure_states(y, j);
        rate_.slopes(y[first_ + j], x.data(), slope.data());
        put_states(slope, j, f);
      }
    }
    heat_slopes(y, conduction_.inner_load(t), conduction_.outer_load(t), f);
  }

  void time_derivative(std::span<double> f) const {
    auto const n = cells();
    auto const C = conduction_.capacity();
    std::fill(f.begin(), f.end(), 0.0);
    double const in = inner_.dQ - inner_.dG * T_first_;
    double const out = outer_.dQ - outer_.dG * T_last_;
    f[0] += in / C[0];
    f[n - 1] += out / C[n - 1];
    f[heat_in()] = in;
    f[heat_in() + 1] = out;
  }

  [[nodiscard]] bool factorise(double d) {
    auto const n = cells();
    auto const C = conduction_.capacity();
    auto const G = conduction_.conductance();
    d_ = d;
    if (!(states_ == 1 ? eliminate_one() : eliminate_many())) return false;
    double above = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      double diagonal = C[i] * d;
      if (i > 0) diagonal += G[i - 1];
      if (i + 1 < n) diagonal += G[i];
      if (i == 0) diagonal += inner_.G;
      if (i + 1 == n) diagonal += outer_.G;
      if (i >= first_ && i < first_ + reacting_) {
        auto const j = i - first_;
        double const B = states_ == 1 ? point_[j].dT * shift_[j] : eliminated_[j].B[0];
        diagonal -= source_[j] * d * B;
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
      if (states_ == 1) {
        x[first_ + j] += source_[j] * point_[j].dalpha * shift_[j] * x[n + j];
      } else {
        double const own = x[n + j];
        put_states(substitute(eliminated_[j], cure_states(x, j)), j, x);
        x[first_ + j] += source_[j] * (d_ * x[n + j] - own);
      }
    }
    for (std::size_t i = 0; i + 1 < n; ++i) x[i + 1] += multiplier_[i] * x[i];
    x[n - 1] *= pivot_[n - 1];
    for (std::size_t i = n - 1; i-- > 0;) x[i] = x[i] * pivot_[i] + multiplier_[i] * x[i + 1];
    for (std::size_t j = 0; j < reacting_; ++j) {
      double const T = x[first_ + j];
      if (states_ == 1) {
        x[n + j] = (x[n + j] + point_[j].dT * T) * shift_[j];
      } else {
        for (std::size_t k = 0; k < states_; ++k) {
          x[n + k * reacting_ + j] += eliminated_[j].B[k] * T;
        }
      }
    }
    auto& in = x[heat_in()];
    auto& out = x[heat_in() + 1];
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
    for (std::size_t i = n; i < heat_in(); ++i) {
      worst = std::max(worst, std::abs(error[i]) / tolerance_.alpha);
    }
    for (std::size_t j = 0; j < reacting_; ++j) {
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
    for (std::size_t k = heat_in(); k < size(); ++k) take(-(y[k] - y0[k]));
    return scale > 0.0 ? std::abs(balance) / scale : 0.0;
  }

 private:
  using States = std::array<double, kinetics::max_states>;

  /// LU factors of (d - dx) of one cell without pivoting, and B = (d - dx)^-1 dT.
  struct Elimination {
    std::array<States, kinetics::max_states> lu{};
    States B{};
  };

  /// Index of the heat in through the inner surface.
  [[nodiscard]] std::size_t heat_in() const { return cells() + states_ * reacting_; }

  [[nodiscard]] States cure_states(std::span<double const> y, std::size_t j) const {
    States x{};
    for (std::size_t k = 0; k < states_; ++k) x[k] = y[cells() + k * reacting_ + j];
    return x;
  }
  void put_states(States const& x, std::size_t j, std::span<double> y) const {
    for (std::size_t k = 0; k < states_; ++k) y[cells() + k * reacting_ + j] = x[k];
  }

  // Autocatalysis can outrun the step; too long a step is then refused, not solved wrongly.
  [[nodiscard]] bool eliminate_one() {
    for (std::size_t j = 0; j < reacting_; ++j) {
      double const own = d_ - point_[j].dalpha;
      if (!(own > 0.1 * d_)) return false;
      shift_[j] = 1.0 / own;
    }
    return true;
  }
  [[nodiscard]] bool eliminate_many() {
    for (std::size_t j = 0; j < reacting_; ++j) {
      auto& lu = eliminated_[j].lu;
      for (std::size_t i = 0; i < states_; ++i) {
        for (std::size_t k = 0; k < states_; ++k) {
          lu[i][k] = (i == k ? d_ : 0.0) - jacobian_[j].dx[i][k];
        }
      }
      for (std::size_t i = 0; i < states_; ++i) {
        if (!(lu[i][i] > 0.1 * d_)) return false;
        for (std::size_t r = i + 1; r < states_; ++r) {
          double const l = lu[r][i] /= lu[i][i];
          for (std::size_t k = i + 1; k < states_; ++k) lu[r][k] -= l * lu[i][k];
        }
      }
      eliminated_[j].B = substitute(eliminated_[j], jacobian_[j].dT);
    }
    return true;
  }
  [[nodiscard]] States substitute(Elimination const& e, States x) const {
    for (std::size_t i = 0; i < states_; ++i) {
      for (std::size_t k = 0; k < i; ++k) x[i] -= e.lu[i][k] * x[k];
    }
    for (std::size_t i = states_; i-- > 0;) {
      for (std::size_t k = i + 1; k < states_; ++k) x[i] -= e.lu[i][k] * x[k];
      x[i] /= e.lu[i][i];
    }
    return x;
  }

  /// Slopes of the temperatures and surface heats; those of the cure states stand in f already.
  void heat_slopes(std::span<double const> y, heat::SurfaceLoad const& inner,
                   heat::SurfaceLoad const& outer, std::span<double> f) const {
    auto const n = cells();
    auto const C = conduction_.capacity();
    double const in = inner.Q - inner.G * y[0];
    double const out = outer.Q - outer.G * y[n - 1];
    std::fill(f.begin(), f.begin() + static_cast<std::ptrdiff_t>(n), 0.0);
    conduction_.add_conducted(y.first(n), f.first(n));
    f[0] += in;
    f[n - 1] += out;
    for (std::size_t j = 0; j < reacting_; ++j) f[first_ + j] += source_[j] * f[n + j];
    for (std::size_t i = 0; i < n; ++i) f[i] /= C[i];
    f[heat_in()] = in;
    f[heat_in() + 1] = out;
  }

  heat::Conduction conduction_;
  kinetics::CureRate<double> rate_;
  Tolerance tolerance_;
  std::size_t first_ = 0, reacting_ = 0, states_ = 1;
  std::vector<double> source_;
  std::vector<Partial<double>> point_, stage_;
  heat::SurfaceLoad inner_, outer_;
  double T_first_ = 0.0, T_last_ = 0.0, d_ = 1.0;
  std::vector<double> pivot_, multiplier_, shift_;
  std::vector<kinetics::StateSlopes> jacobian_;
  std::vector<Elimination> eliminated_;
};

}  // namespace cure::process
