#pragma once
/// Words about readings.

#include <cstddef>
#include <cstdio>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/arithmetic.hpp"

namespace cure::follow::detail {

/// A number with so many digits behind the point.
inline std::string number(double x, int digits = 0) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", digits, x);
  return text;
}

inline std::string many(std::size_t count, char const* one) {
  return std::to_string(count) + " " + one + (count == 1 ? "" : "s");
}

/// Where they are, in minutes: a few one by one, many as a span.
inline std::string at_times(std::vector<double> const& seconds) {
  if (seconds.size() > 3) {
    return "from " + number(seconds.front() / 60.0) + " to " + number(seconds.back() / 60.0) +
           " min";
  }
  std::string text;
  for (double const t : seconds) text += (text.empty() ? "at " : ", ") + number(t / 60.0);
  return text + " min";
}

inline std::string replaced(std::string text, std::string_view what, std::string_view by) {
  if (auto const at = text.find(what); at != std::string::npos) text.replace(at, what.size(), by);
  return text;
}

}  // namespace cure::follow::detail
