#pragma once
/// The cure states of many cells inside a linearly implicit step. They have no spatial coupling, so
/// each cell's rows (d - J) K = r + J_T K_T give K = A + B K_T, and only K_T is left to the wall.
/// A block holds the states of all m cells: alpha of each, then each further state of each.

#include <array>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "cure/kinetics/cure_rate.hpp"
#include "cure/numerics/small_lu.hpp"

namespace cure::kinetics {

class CureBlock {
 public:
  CureBlock(CureRate<double> rate, std::size_t cells)
      : rate_(std::move(rate)), states_(rate_.states()), cells_(cells) {
    point_.resize(cells);
    stage_.resize(cells);
    shift_.resize(cells);
    if (states_ > 1) {
      jacobian_.resize(cells);
      eliminated_.resize(cells);
    }
  }

  /// States of each cell.
  [[nodiscard]] std::size_t states() const { return states_; }
  [[nodiscard]] std::size_t size() const { return states_ * cells_; }

  /// Slopes of the block at temperatures T [K], with the Jacobian kept.
  void linearise(std::span<double const> T, std::span<double const> x, std::span<double> f) {
    if (states_ == 1) {
      rate_.at(T, x, point_);
      for (std::size_t j = 0; j < cells_; ++j) f[j] = point_[j].value;
      return;
    }
    for (std::size_t j = 0; j < cells_; ++j) {
      jacobian_[j] = rate_.at(T[j], gather(x, j).data());
      scatter(jacobian_[j].f, j, f);
    }
  }

  /// Slopes of the block only.
  void evaluate(std::span<double const> T, std::span<double const> x, std::span<double> f) {
    if (states_ == 1) {
      rate_.at(T, x, stage_);
      for (std::size_t j = 0; j < cells_; ++j) f[j] = stage_[j].value;
      return;
    }
    States slope{};
    for (std::size_t j = 0; j < cells_; ++j) {
      rate_.slopes(T[j], gather(x, j).data(), slope.data());
      scatter(slope, j, f);
    }
  }

  /// Prepares (d - J). @returns false when the step is too long: autocatalysis can outrun it, and
  /// the step is then to be refused, not solved wrongly
  [[nodiscard]] bool factorise(double d) {
    for (std::size_t j = 0; j < cells_; ++j) {
      if (states_ == 1) {
        double const own = d - point_[j].dalpha;
        if (!(own > 0.1 * d)) return false;
        shift_[j] = 1.0 / own;
      } else {
        auto& e = eliminated_[j];
        if (!e.lu.factorise(d, jacobian_[j].dx, states_)) return false;
        e.B = e.lu.solve(jacobian_[j].dT);
      }
    }
    return true;
  }

  /// d(alpha part of K)/dK_T of cell j.
  [[nodiscard]] double B(std::size_t j) const {
    return states_ == 1 ? point_[j].dT * shift_[j] : eliminated_[j].B[0];
  }

  /// Right-hand sides into A, in place.
  void reduce(std::span<double> x) const {
    for (std::size_t j = 0; j < cells_; ++j) {
      if (states_ == 1) {
        x[j] *= shift_[j];
      } else {
        scatter(eliminated_[j].lu.solve(gather(x, j)), j, x);
      }
    }
  }

  /// A into K = A + B K_T, in place.
  void complete(std::span<double const> K_T, std::span<double> x) const {
    for (std::size_t j = 0; j < cells_; ++j) {
      if (states_ == 1) {
        x[j] += B(j) * K_T[j];
      } else {
        for (std::size_t k = 0; k < states_; ++k) {
          x[k * cells_ + j] += eliminated_[j].B[k] * K_T[j];
        }
      }
    }
  }

 private:
  using States = std::array<double, max_states>;
  struct Elimination {
    numerics::SmallLu<max_states> lu;
    States B{};
  };

  [[nodiscard]] States gather(std::span<double const> x, std::size_t j) const {
    States s{};
    for (std::size_t k = 0; k < states_; ++k) s[k] = x[k * cells_ + j];
    return s;
  }
  void scatter(States const& s, std::size_t j, std::span<double> x) const {
    for (std::size_t k = 0; k < states_; ++k) x[k * cells_ + j] = s[k];
  }

  CureRate<double> rate_;
  std::size_t states_, cells_;
  std::vector<Partial<double>> point_, stage_;
  std::vector<double> shift_;
  std::vector<StateSlopes> jacobian_;
  std::vector<Elimination> eliminated_;
};

}  // namespace cure::kinetics
