#pragma once
/// What messages about bad input need: ranges of numbers, numbers as people write them, and how
/// near two words are.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

namespace cure::io {

/// Number of single-character edits between two words (Levenshtein), for "did you mean".
inline std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      std::size_t const change = diagonal + (a[i - 1] == b[j - 1] ? 0u : 1u);
      diagonal = row[j];
      row[j] = std::min({change, row[j] + 1, row[j - 1] + 1});
    }
  }
  return row[b.size()];
}

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

}  // namespace cure::io
