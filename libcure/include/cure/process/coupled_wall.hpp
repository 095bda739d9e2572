#pragma once
/// What a coupled wall is apart from its operator, that is from how heat moves between its cells
/// and how the implicit step solves for that: Wall (wall.hpp) in one dimension, SectionWall
/// (section_wall.hpp) in two.
///
/// State: [T of the n cells | alpha of the m reacting cells | each further cure state of them |
/// heat in through the inner surface | through the outer one]. The two heats are integrated with
/// the same method, so that the energy balance closes to round-off whatever the step size. Where
/// properties vary, u stands in place of T (see cell_properties.hpp).

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/kinetics/cure_block.hpp"
#include "cure/numerics/kernel_choice.hpp"
#include "cure/numerics/step_size.hpp"
#include "cure/process/cell_properties.hpp"
#include "cure/process/tolerance.hpp"

namespace cure::process {

/// @tparam Conduction heat::Conduction or heat::SectionConduction
template <class Conduction>
class CoupledWall {
 public:
  [[nodiscard]] std::size_t cells() const { return conduction_.size(); }
  [[nodiscard]] std::size_t reacting_cells() const { return resin_.size(); }
  /// The reacting cells, in the order of their cure states.
  [[nodiscard]] std::span<std::size_t const> reacting() const { return resin_; }
  /// Cure states of each reacting cell.
  [[nodiscard]] std::size_t states() const { return cure_.states(); }
  [[nodiscard]] std::size_t size() const { return heat_in() + 2; }
  [[nodiscard]] Conduction const& conduction() const { return conduction_; }

  /// State from temperatures [K] and cure states, in place.
  void to_state(std::span<double> y) const { properties_.to_state(y); }
  /// Temperatures from a state and their slopes from its slopes, in place.
  void to_temperature(std::span<double> y, std::span<double> f) const {
    properties_.to_temperature(y, f);
  }

  /// Largest error of any cell in units of the tolerance; infinite outside 0 <= alpha <= 1.
  [[nodiscard]] double error_norm(std::span<double const> error, std::span<double const> y) const {
    auto const n = cells();
    double const in_T = loops_->largest(error.data(), n);
    double const in_alpha =
        loops_->largest_over(error.data() + n, y.data() + n, Tolerance::alpha_floor, cure_.size());
    double const outside = loops_->farthest(y.data() + n, 0.5, reacting_cells());
    if (outside > 0.5 + tolerance_.alpha_slack()) return std::numeric_limits<double>::infinity();
    return std::max(in_T / tolerance_.temperature, in_alpha / tolerance_.alpha);
  }

  /// The hottest cell, named, for the message of a run that stopped.
  [[nodiscard]] std::string worst(std::span<double const> y) const {
    std::vector<double> state(y.begin(), y.end()), slopes(y.size());
    to_temperature(state, slopes);
    auto const T = std::span(state).first(cells());
    auto const hottest = std::max_element(T.begin(), T.end());
    return conduction_.mesh().place(static_cast<std::size_t>(hottest - T.begin())) +
           ", T = " + std::to_string(*hottest) + " K";
  }

  /// Heat stored since `y0` less heat released by cure and heat let in, over the sum of their
  /// magnitudes [-]: zero but for round-off. Both arguments are states.
  [[nodiscard]] double energy_residual(std::span<double const> y0,
                                       std::span<double const> y) const {
    double balance = 0.0, scale = 0.0;
    auto const take = [&](double heat) {
      balance += heat;
      scale += std::abs(heat);
    };
    auto const C = conduction_.capacity();
    auto const n = cells();
    for (std::size_t i = 0; i < n; ++i) take(C[i] * (y[i] - y0[i]));
    for (std::size_t j = 0; j < source_.size(); ++j) take(-source_[j] * (y[n + j] - y0[n + j]));
    for (std::size_t k = heat_in(); k < y.size(); ++k) take(-(y[k] - y0[k]));
    return scale > 0.0 ? std::abs(balance) / scale : 0.0;
  }

 protected:
  /// @param cures whether a cell of the mesh does: cures(mesh, cell)
  /// @param source heat of full cure per volume of those cells [J/m3]
  template <class Cures>
  CoupledWall(Conduction conduction, Cures const& cures, kinetics::CureRate<double> rate,
              double source, Tolerance tolerance, LaminateProperties properties)
      : conduction_(std::move(conduction)),
        resin_(cells_that(cures)),
        cure_(std::move(rate), resin_.size()),
        tolerance_(tolerance),
        properties_(properties, resin_, laws(conduction_)),
        variable_(!properties_.constant()) {
    for (auto const c : resin_) source_.push_back(source * conduction_.volume()[c]);
  }

  /// Index of the heat in through the inner surface.
  [[nodiscard]] std::size_t heat_in() const { return cells() + cure_.size(); }

  /// The cure states of a state.
  template <class T>
  [[nodiscard]] std::span<T> block(std::span<T> y) const {
    return y.subspan(cells(), cure_.size());
  }

  Conduction conduction_;
  std::vector<std::size_t> resin_;
  kinetics::CureBlock cure_;
  Tolerance tolerance_;
  CellProperties properties_;
  bool variable_;
  numerics::VectorKernels const* loops_ = &numerics::vector_kernels();
  std::vector<double> source_;  ///< heat of full cure of each reacting cell [J]
  double d_ = 1.0;              ///< of the last factorisation [1/s]

 private:
  template <class Cures>
  [[nodiscard]] std::vector<std::size_t> cells_that(Cures const& cure) const {
    std::vector<std::size_t> those;
    for (std::size_t i = 0; i < cells(); ++i) {
      if (cure(conduction_.mesh(), i)) those.push_back(i);
    }
    return those;
  }

  static std::vector<CellProperties::Law> laws(Conduction const& conduction) {
    std::vector<CellProperties::Law> of;
    for (std::size_t i = 0; i < conduction.size(); ++i) {
      of.push_back(conduction.material(i).varying);
    }
    return of;
  }
};

}  // namespace cure::process
