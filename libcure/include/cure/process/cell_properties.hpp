#pragma once
/// The properties of a wall's cells that vary: the laminate's with temperature and cure (see
/// laminate_properties.hpp), those of other layers with temperature alone (see
/// heat/varying.hpp). A wall in which some vary solves for u in place of T, cell by cell.

#include <algorithm>
#include <cstddef>
#include <memory>
#include <span>
#include <utility>
#include <vector>

#include "cure/heat/varying.hpp"
#include "cure/process/laminate_properties.hpp"

namespace cure::process {

class CellProperties {
 public:
  using Law = std::shared_ptr<heat::VaryingProperties const>;

  /// @param resin cells of the laminate, in the order of their degrees of cure
  /// @param laws of each cell; those of the laminate's cells are not looked at
  CellProperties(LaminateProperties laminate, std::vector<std::size_t> const& resin,
                 std::vector<Law> const& laws)
      : cells_(laws.size()), laminate_(laminate) {
    std::vector<bool> cures(cells_, false);
    for (auto const c : resin) cures[c] = true;
    for (std::size_t c = 0; c < cells_; ++c) {
      if (laws[c] && !cures[c]) others_.emplace_back(c, laws[c]);
    }
    if (!laminate.constant()) resin_ = resin;
    capacity_factor_.assign(constant() ? 0 : cells_, 1.0);
    T_alpha_.assign(resin.size(), 0.0);
  }

  /// No cell varies, and u is T throughout.
  [[nodiscard]] bool constant() const { return resin_.empty() && others_.empty(); }

  /// State from temperatures [K] and cure states, in place.
  void to_state(std::span<double> y) const {
    for (std::size_t j = 0; j < resin_.size(); ++j) {
      y[resin_[j]] = laminate_.u_of(y[resin_[j]], y[cells_ + j]);
    }
    for (auto const& [c, law] : others_) y[c] = law->u_of(y[c]);
  }

  /// Temperatures from a state and their slopes from its slopes, in place.
  void to_temperature(std::span<double> y, std::span<double> f) const {
    for (std::size_t j = 0; j < resin_.size(); ++j) {
      double const alpha = y[cells_ + j];
      auto const c = resin_[j];
      y[c] = laminate_.temperature(y[c], alpha);
      f[c] = f[c] / laminate_.capacity_factor(y[c], alpha) +
             laminate_.temperature_dalpha(y[c], alpha) * f[cells_ + j];
    }
    for (auto const& [c, law] : others_) {
      y[c] = law->temperature(y[c]);
      f[c] /= law->capacity_factor(y[c]);
    }
  }

  /// Temperatures [K] of all cells of a state, and their conductivities over the reference [-];
  /// the factors of cells that do not vary are left alone.
  void read(std::span<double const> y, std::span<double> T, std::span<double> k_factor) const {
    std::copy(y.begin(), y.begin() + static_cast<std::ptrdiff_t>(cells_), T.begin());
    for (std::size_t j = 0; j < resin_.size(); ++j) {
      double const alpha = y[cells_ + j];
      auto const c = resin_[j];
      T[c] = laminate_.temperature(y[c], alpha);
      k_factor[c] = laminate_.conductivity_factor(T[c], alpha);
    }
    for (auto const& [c, law] : others_) {
      T[c] = law->temperature(y[c]);
      k_factor[c] = law->conductivity_factor(T[c]);
    }
  }

  /// Keeps what a linearly implicit step needs at these temperatures [K].
  void linearise(std::span<double const> T, std::span<double const> y) {
    for (std::size_t j = 0; j < resin_.size(); ++j) {
      double const alpha = y[cells_ + j];
      auto const c = resin_[j];
      capacity_factor_[c] = laminate_.capacity_factor(T[c], alpha);
      T_alpha_[j] = laminate_.temperature_dalpha(T[c], alpha);
    }
    for (auto const& [c, law] : others_) capacity_factor_[c] = law->capacity_factor(T[c]);
  }

  /// Heat capacity of each cell over the reference one, there [-]; empty when none varies.
  [[nodiscard]] std::span<double const> capacity_factor() const { return capacity_factor_; }
  /// dT/d(alpha) at constant u of each reacting cell, there [K].
  [[nodiscard]] std::span<double const> T_alpha() const { return T_alpha_; }

  /// Changes of u from changes of T and alpha in `x`, in place: the end of an implicit stage.
  void to_state_change(std::span<double> x) const {
    for (std::size_t j = 0; j < resin_.size(); ++j) {
      auto const c = resin_[j];
      x[c] = (x[c] - T_alpha_[j] * x[cells_ + j]) * capacity_factor_[c];
    }
    for (auto const& [c, law] : others_) x[c] *= capacity_factor_[c];
  }

 private:
  std::size_t cells_;
  LaminateProperties laminate_;
  std::vector<std::size_t> resin_;                   ///< empty when the laminate does not vary
  std::vector<std::pair<std::size_t, Law>> others_;  ///< cells of other layers that vary
  std::vector<double> capacity_factor_, T_alpha_;
};

}  // namespace cure::process
