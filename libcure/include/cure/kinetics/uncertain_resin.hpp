#pragma once
/// A resin whose constants are not known exactly: its draws from standard normal numbers.

#include <cstddef>
#include <functional>
#include <span>
#include <string>
#include <vector>

#include "cure/error.hpp"
#include "cure/kinetics/resin.hpp"
#include "cure/numerics/maps.hpp"
#include "cure/numerics/run_control.hpp"

namespace cure::kinetics {

struct UncertainResin {
  std::size_t dimensions =
      0;               ///< normal numbers that a draw takes; 0: the constants count as exact
  bool whole = false;  ///< the constants of no part of a blend count as exact
  std::function<Resin<double>(std::span<double const> z)> draw;  ///< @throws InputError

  [[nodiscard]] bool known() const { return dimensions > 0; }
  /// One draw a row. @param z (draws x dimensions) @throws InputError, numerics::Stopped
  [[nodiscard]] std::vector<Resin<double>> draws(numerics::RowMatrix const& z) const {
    if (z.cols() != numerics::index(dimensions)) {
      throw InputError("z", std::to_string(z.cols()) + " columns", std::to_string(dimensions));
    }
    std::vector<Resin<double>> resins;
    resins.reserve(static_cast<std::size_t>(z.rows()));
    for (Eigen::Index i = 0; i < z.rows(); ++i) {
      numerics::may_stop(20'000);  // a document is read anew
      resins.push_back(draw({z.row(i).data(), dimensions}));
    }
    return resins;
  }
};

}  // namespace cure::kinetics
