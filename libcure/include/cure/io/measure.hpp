#pragma once
/// Units of documents whose keys name the unit, and ranges of SI in them.

#include "cure/range.hpp"

namespace cure::io {

/// A unit of documents: SI value = value * factor + offset.
struct Measure {
  char const* unit = "";
  double factor = 1.0, offset = 0.0;

  [[nodiscard]] constexpr double si(double value) const { return value * factor + offset; }
  /// A range in SI in this unit. Twelve digits, so that 0.06 m are 60 mm.
  [[nodiscard]] constexpr Range of(Range range) const {
    if (factor == 1.0 && offset == 0.0) return range;
    return {.low = twelve_digits((range.low - offset) / factor),
            .high = twelve_digits((range.high - offset) / factor),
            .above = range.above};
  }
  /// std::round and the like are no constant expressions yet.
  static constexpr double twelve_digits(double x) {
    double const size = x < 0.0 ? -x : x;
    if (size == 0.0 || size > 1e12) return x;
    double scale = 1.0;
    while (size * scale < 1e11) scale *= 10.0;
    // NOLINTNEXTLINE(bugprone-incorrect-roundings): it is at most 1e12 here
    auto const whole = static_cast<long long>(size * scale + 0.5);
    return (x < 0.0 ? -1.0 : 1.0) * static_cast<double>(whole) / scale;
  }
};

}  // namespace cure::io
