#pragma once
/// The cure states of many cells inside a linearly implicit step. They have no spatial coupling, so
/// each cell's rows (d - J) K = r + J_T K_T give K = A + B K_T, and only K_T is left to the wall.
/// A block holds the states of all m cells: alpha of each, then each further state of each.

#include <array>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "cure/kinetics/cell_rates.hpp"
#include "cure/kinetics/cure_rate.hpp"
#include "cure/numerics/kernel_choice.hpp"
#include "cure/numerics/small_lu.hpp"

namespace cure::kinetics {

class CureBlock {
 public:
  CureBlock(CureRate<double> rate, std::size_t cells)
      : rate_(std::move(rate)),
        cell_rates_(rate_.reaction()),
        states_(rate_.states()),
        cells_(cells) {
    for (auto* v : {&dT_, &dalpha_, &shift_, &B_}) v->resize(cells);
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
    if (states_ == 1) return cell_rates_.with_derivatives(T, x, f, dT_, dalpha_);
    for (std::size_t j = 0; j < cells_; ++j) {
      jacobian_[j] = rate_.at(T[j], gather(x, j).data());
      scatter(jacobian_[j].f, j, f);
    }
  }

  /// Slopes of the block only.
  void evaluate(std::span<double const> T, std::span<double const> x, std::span<double> f) {
    if (states_ == 1) return cell_rates_.values(T, x, f);
    States slope{};
    for (std::size_t j = 0; j < cells_; ++j) {
      rate_.slopes(T[j], gather(x, j).data(), slope.data());
      scatter(slope, j, f);
    }
  }

  /// Prepares (d - J). @returns false when the step is too long: autocatalysis can outrun it, and
  /// the step is then to be refused, not solved wrongly
  [[nodiscard]] bool factorise(double d) {
    d_ = d;
    if (states_ == 1) return loops_->factorise_cells(arrays(), d) > numerics::least_cell_pivot * d;
    for (std::size_t j = 0; j < cells_; ++j) {
      auto& e = eliminated_[j];
      if (!e.lu.factorise(d, jacobian_[j].dx, states_)) return false;
      e.B = e.lu.solve(jacobian_[j].dT);
      B_[j] = e.B[0];
    }
    return true;
  }

  /// d(alpha part of K)/dK_T of each cell.
  [[nodiscard]] std::span<double const> B() const { return B_; }

  /// Right-hand sides r into A, in place; adds weight (d A - r) of alpha to `heat` of each cell,
  /// what the cure of this stage gives off beyond r.
  void reduce(std::span<double> x, std::span<double const> weight, std::span<double> heat) {
    if (states_ == 1) {
      return loops_->reduce_cells(arrays(), d_, x.data(), weight.data(), heat.data());
    }
    for (std::size_t j = 0; j < cells_; ++j) {
      double const r = x[j];
      scatter(eliminated_[j].lu.solve(gather(x, j)), j, x);
      heat[j] += weight[j] * (d_ * x[j] - r);
    }
  }

  /// A into K = A + B K_T, in place.
  void complete(std::span<double const> K_T, std::span<double> x) {
    if (states_ == 1) return loops_->complete_cells(arrays(), K_T.data(), x.data());
    for (std::size_t k = 0; k < states_; ++k) {
      for (std::size_t j = 0; j < cells_; ++j) {
        x[k * cells_ + j] += eliminated_[j].B[k] * K_T[j];
      }
    }
  }

 private:
  numerics::CellArrays arrays() {
    return {cells_, dalpha_.data(), dT_.data(), shift_.data(), B_.data()};
  }

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
  CellRates cell_rates_;
  numerics::VectorKernels const* loops_ = &numerics::vector_kernels();
  std::size_t states_, cells_;
  double d_ = 1.0;
  std::vector<double> dT_, dalpha_, shift_, B_;  ///< of each cell, the last two after factorise
  std::vector<StateSlopes> jacobian_;
  std::vector<Elimination> eliminated_;
};

}  // namespace cure::kinetics
