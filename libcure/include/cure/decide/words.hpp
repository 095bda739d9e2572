#pragma once
/// Times in words, rounded to the conservative side only: what ends the work down, what must be
/// waited for up.

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "cure/arithmetic.hpp"

namespace cure::decide {

/// "18 min", from an hour on "1 h 45 min (105 min)", from ten hours on "20 h 12 min"; tenths below
/// ten minutes. @param seconds may be negative
inline std::string duration(double seconds, bool up) {
  double const minutes = seconds / 60.0;
  // A whole number that carries round-off stays what it is.
  auto const whole = [up](double x) { return up ? std::ceil(x - 1e-6) : std::floor(x + 1e-6); };
  char text[48];
  if (std::abs(minutes) < 10.0) {
    double const tenths = whole(10.0 * minutes) / 10.0;
    // Adding 0 turns a negative zero into zero.
    std::snprintf(text, sizeof text, tenths == std::round(tenths) ? "%.0f min" : "%.1f min",
                  tenths + 0.0);
    return text;
  }
  long const all = std::lround(whole(minutes));
  if (std::labs(all) < 60) return std::to_string(all) + " min";
  long const hours = std::labs(all) / 60, rest = std::labs(all) % 60;
  std::string words = (all < 0 ? "-" : "") + std::to_string(hours) + " h";
  if (rest != 0) words += " " + std::to_string(rest) + " min";
  return hours >= 10 ? words : words + " (" + std::to_string(all) + " min)";
}

/// "25 min", "3 h 45", "14 h", from two days on "52 h": whole minutes that are rounded already.
inline std::string short_duration(double seconds) {
  double const minutes = seconds / 60.0;
  char text[48];
  if (minutes < 60.0) {
    std::snprintf(text, sizeof text, "%g min", minutes);
    return text;
  }
  double const hours = std::floor(minutes / 60.0), rest = minutes - 60.0 * hours;
  std::snprintf(text, sizeof text, rest != 0.0 ? "%.0f h %02.0f" : "%.0f h", hours, rest);
  return text;
}

/// "23 of 100", rounded up; all only when it is all.
inline std::string per_hundred(double share) {
  long const count =
      share >= 1.0 ? 100 : std::lround(std::fmin(99.0, std::ceil(100.0 * share - 1e-9)));
  return std::to_string(count) + " of 100";
}

}  // namespace cure::decide
