#pragma once
/// What every wall measures in the same way, however many dimensions it has: how good a step was,
/// and whether the energy closes. A state is [T | cure states, alpha of all reacting cells first |
/// heats let in].

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>

#include "cure/numerics/row_loops.hpp"
#include "cure/process/tolerance.hpp"

namespace cure::process {

/// Largest error of any cell in units of the tolerance; infinite outside 0 <= alpha <= 1.
/// @param cells number of temperatures
/// @param reacting number of reacting cells
/// @param heats index of the first of the heats let in
inline double step_error(numerics::RowLoops const& loops, Tolerance const& tolerance,
                         std::span<double const> error, std::span<double const> y,
                         std::size_t cells, std::size_t reacting, std::size_t heats) {
  double const in_T = loops.largest(error.data(), cells);
  double const in_alpha = loops.largest_over(error.data() + cells, y.data() + cells,
                                             Tolerance::alpha_floor, heats - cells);
  double const outside = loops.farthest(y.data() + cells, 0.5, reacting);
  if (outside > 0.5 + tolerance.alpha_slack()) return std::numeric_limits<double>::infinity();
  return std::max(in_T / tolerance.temperature, in_alpha / tolerance.alpha);
}

/// Heat stored since `y0` less heat released by cure and heat let in, over the sum of their
/// magnitudes [-]: zero but for round-off.
/// @param capacity of each cell [J/K], @param source heat of full cure of each reacting cell [J]
/// @param heats index of the first of the heats let in
inline double energy_residual(std::span<double const> capacity, std::span<double const> source,
                              std::span<double const> y0, std::span<double const> y,
                              std::size_t heats) {
  double balance = 0.0, scale = 0.0;
  auto const take = [&](double heat) {
    balance += heat;
    scale += std::abs(heat);
  };
  auto const cells = capacity.size();
  for (std::size_t i = 0; i < cells; ++i) take(capacity[i] * (y[i] - y0[i]));
  for (std::size_t j = 0; j < source.size(); ++j) {
    take(-source[j] * (y[cells + j] - y0[cells + j]));
  }
  for (std::size_t k = heats; k < y.size(); ++k) take(-(y[k] - y0[k]));
  return scale > 0.0 ? std::abs(balance) / scale : 0.0;
}

}  // namespace cure::process
