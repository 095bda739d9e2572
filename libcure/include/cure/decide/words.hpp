#pragma once
/// Times in words, rounded to the conservative side only: what ends the work down, what must be
/// waited for up. Shares, and what is not known exactly.

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "cure/arithmetic.hpp"
#include "cure/uncertain/stated.hpp"

namespace cure::decide {

/// The whole number above, or below; one that carries round-off stays what it is. Adding 0 turns a
/// negative zero into zero.
inline double whole(double x, bool up) {
  return (up ? std::ceil(x - 1e-6) : std::floor(x + 1e-6)) + 0.0;
}

namespace detail {

/// "20 h 12 min". @param minutes from an hour on, or to minus an hour
inline std::string hours_and_minutes(long minutes) {
  long const hours = std::labs(minutes) / 60, rest = std::labs(minutes) % 60;
  std::string words = (minutes < 0 ? "-" : "") + std::to_string(hours) + " h";
  return rest != 0 ? words + " " + std::to_string(rest) + " min" : words;
}

}  // namespace detail

/// "18 min", from an hour on "1 h 45 min"; tenths below ten minutes.
/// @param seconds may be negative
inline std::string duration_alone(double seconds, bool up) {
  double const minutes = seconds / 60.0;
  if (std::abs(minutes) < 10.0) {
    char text[48];
    double const tenths = whole(10.0 * minutes, up) / 10.0;
    std::snprintf(text, sizeof text, tenths == std::round(tenths) ? "%.0f min" : "%.1f min",
                  tenths);
    return text;
  }
  long const all = std::lround(whole(minutes, up));
  return std::labs(all) < 60 ? std::to_string(all) + " min" : detail::hours_and_minutes(all);
}

/// The same with the minutes beside the hours, up to ten of these: "1 h 45 min (105 min)".
inline std::string duration(double seconds, bool up) {
  auto const words = duration_alone(seconds, up);
  double const minutes = seconds / 60.0;
  long const all = std::lround(whole(minutes, up));
  bool const beside = std::labs(all) >= 60 && std::labs(all) < 600;
  return beside ? words + " (" + std::to_string(all) + " min)" : words;
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

/// Whose ranges and what they are, as part of a sentence.
/// @param constants whether those of the resin vary too
inline std::string in_words(uncertain::Stated const& stated, bool constants) {
  std::string words;
  for (auto const& input : stated.inputs) {
    auto title = input.title;
    if (!title.empty() && title[0] >= 'A' && title[0] <= 'Z') title[0] += 'a' - 'A';
    // A standard deviation and a half width are not the same ±.
    char spread[64];
    if (input.distribution == uncertain::Distribution::lognormal) {
      std::snprintf(spread, sizeof spread, " (sd × or ÷ %.2g)", std::exp(input.spread));
    } else {
      bool const even = input.distribution == uncertain::Distribution::uniform;
      std::snprintf(spread, sizeof spread, " (%s %g%s)", even ? "evenly within ±" : "sd",
                    input.is_factor() ? 100.0 * input.spread : input.spread,
                    input.is_factor() ? " %" : " K");
    }
    words += (words.empty() ? "" : ", ") + title + spread;
  }
  if (constants)
    words += (words.empty() ? std::string() : ", ") + "constants of the resin by its covariance";
  return stated.source + ": " + words;
}

}  // namespace cure::decide
