#pragma once
/// A resin whose constants are not known exactly: its draws from standard normal numbers.

#include <cstddef>
#include <functional>
#include <span>

#include "cure/kinetics/resin.hpp"

namespace cure::kinetics {

struct UncertainResin {
  std::size_t dimensions =
      0;               ///< normal numbers that a draw takes; 0: the constants count as exact
  bool whole = false;  ///< the constants of no part of a blend count as exact
  std::function<Resin<double>(std::span<double const> z)> draw;  ///< @throws InputError

  [[nodiscard]] bool known() const { return dimensions > 0; }
};

}  // namespace cure::kinetics
