#pragma once
/// Ranges of numbers, and numbers as people write them, for messages about bad input.

#include <cmath>
#include <limits>
#include <sstream>
#include <string>

#include "cure/arithmetic.hpp"

namespace cure {

/// A number as a person would write it.
inline std::string shown(double x, int digits = 6) {
  std::ostringstream out;
  out.precision(digits);
  out << x;
  return out.str();
}

/// Allowed range of a number; the ends belong to it unless `above` says that the lower does not.
struct Range {
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
  bool above = false;

  [[nodiscard]] bool holds(double x) const {
    return std::isfinite(x) && (above ? x > low : x >= low) && x <= high;
  }
  [[nodiscard]] std::string text() const {
    if (std::isinf(low) && std::isinf(high)) return "a finite number";
    if (std::isinf(high)) return (above ? "above " : "at least ") + shown(low);
    if (std::isinf(low)) return "at most " + shown(high);
    return above ? "above " + shown(low) + ", at most " + shown(high)
                 : shown(low) + " to " + shown(high);
  }
};

}  // namespace cure
