#pragma once
/// A resin whose constants are not known exactly: its draws from standard normal numbers.

#include <cstddef>
#include <functional>
#include <span>
#include <utility>
#include <vector>

#include "cure/kinetics/resin.hpp"

namespace cure::kinetics {

struct UncertainResin {
  std::size_t dimensions =
      0;               ///< normal numbers that a draw takes; 0: the constants count as exact
  bool whole = false;  ///< the constants of no part of a blend count as exact
  /// One draw a row of z (rows x dimensions, row after row). @throws InputError, numerics::Stopped
  std::function<std::vector<Resin<double>>(std::span<double const> z, std::size_t rows)> draws;

  [[nodiscard]] bool known() const { return dimensions > 0; }
  [[nodiscard]] Resin<double> draw(std::span<double const> z) const {
    return std::move(draws(z, 1).front());
  }
};

}  // namespace cure::kinetics
