#pragma once
/// Numbers and places as pages show them; what has a conservative side is rounded to it.

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "cure/decide/words.hpp"
#include "cure/process/criteria.hpp"
#include "cure/units.hpp"

namespace cure::page {

/// Significant digits, without zeros at the end.
inline std::string number(double x, int digits = 6) {
  char text[32];
  std::snprintf(text, sizeof text, "%.*g", digits, x);
  return text;
}

inline std::string fixed(double x, int decimals) {
  char text[48];
  std::snprintf(text, sizeof text, "%.*f", decimals, x);
  return text;
}

/// To one decimal, without a zero there.
inline std::string rounded(double x) {
  auto words = fixed(x, 1);
  if (words.ends_with(".0")) words.resize(words.size() - 2);
  return words;
}

/// The whole number above, or below.
inline double up(double x) { return decide::whole(x, true); }
inline double down(double x) { return decide::whole(x, false); }

/// "4 mm", or "4 to 6 mm".
inline std::string span(std::vector<double> const& values, double factor, char const* unit) {
  auto const [low, high] = std::minmax_element(values.begin(), values.end());
  auto const first = number(*low * factor), last = number(*high * factor);
  return (first == last ? first : first + " to " + last) + " " + unit;
}

/// A numerical error [s], rounded up.
inline std::string plus_minus(double seconds) {
  double const minutes = seconds / 60.0;
  if (minutes < 1.0) return "± " + number(std::max(1.0, up(seconds))) + " s";
  if (minutes < 10.0) return "± " + number(up(10.0 * minutes) / 10.0) + " min";
  return "± " + fixed(up(minutes), 0) + " min";
}

/// Layer, position and, in a section, the place along it: "liner outer face, 6 o'clock".
inline std::string place(process::Point const& p) {
  // Documents have it by its stage, a crew by where it is.
  if (p.position == "whole mass") return "resin in the bucket";
  auto const words = p.layer + " " + p.position;
  if (p.angle) return words + ", " + p.clock;
  return p.distance ? words + ", " + fixed(1e3 * *p.distance, 0) + " mm along" : words;
}

/// The place and how warm it is there.
inline std::string warmth(process::Point const& p) {
  return place(p) + ", " + fixed(celsius_from_kelvin(p.temperature), 0) + " °C";
}

/// The same and how far it has cured, rounded down: 79.9 % cured is not 80 %.
inline std::string state(process::Point const& p) {
  return warmth(p) + ", " + fixed(std::floor(100.0 * p.alpha), 0) + " % cured";
}

}  // namespace cure::page
