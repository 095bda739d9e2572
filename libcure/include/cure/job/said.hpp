#pragma once
/// What people say of temperatures, lengths, times and the time of day, turned into numbers of a
/// case document: degrees Celsius, millimetres, minutes. A comma counts as a decimal point.

#include <array>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <string>
#include <string_view>

#include "cure/decide/words.hpp"

namespace cure::job {

inline constexpr double day = 1440.0;  ///< [min]

/// A number, and whether its unit was said.
struct Measured {
  double value = 0.0;
  bool unit_said = false;
};

namespace detail {

/// The text in small letters, with plain spaces and none around it.
inline std::string plain(std::string_view text) {
  std::string t;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text.substr(i, 2) == "\u00a0") {
      t += ' ';
      ++i;
    } else {
      auto const c = static_cast<unsigned char>(text[i]);
      t += std::isspace(c) ? ' ' : static_cast<char>(std::tolower(c));
    }
  }
  auto const first = t.find_first_not_of(' ');
  if (first == std::string::npos) return "";
  return t.substr(first, t.find_last_not_of(' ') - first + 1);
}

/// Reads a text from its start.
class Scan {
 public:
  explicit Scan(std::string_view text) : rest_(text) {}

  [[nodiscard]] bool done() const { return rest_.empty(); }
  [[nodiscard]] std::string_view rest() const { return rest_; }
  void spaces() {
    while (!rest_.empty() && rest_.front() == ' ') rest_.remove_prefix(1);
  }
  bool take(std::string_view word) {
    if (!rest_.starts_with(word)) return false;
    rest_.remove_prefix(word.size());
    return true;
  }
  /// As many digits as there are, up to most.
  std::string digits(std::size_t most = 30) {
    std::size_t n = 0;
    while (n < most && n < rest_.size() && rest_[n] >= '0' && rest_[n] <= '9') ++n;
    std::string found(rest_.substr(0, n));
    rest_.remove_prefix(n);
    return found;
  }
  std::optional<double> number() {
    std::string n = take("-") ? "-" : "";
    if (n.empty()) take("+");
    auto const before = digits();
    std::string after;
    bool const point = take(".") || take(",");
    if (point) after = digits();
    if (before.empty() && after.empty()) return std::nullopt;
    n += (before.empty() ? "0" : before) + "." + (after.empty() ? "0" : after);
    return std::strtod(n.c_str(), nullptr);
  }

 private:
  std::string_view rest_;
};

inline int whole_of(std::string const& digits) { return static_cast<int>(std::stol(digits)); }

}  // namespace detail

/// Whether an answer says that it is not known.
inline bool unknown(std::string_view text) {
  std::string bare;
  auto const words = detail::plain(text);
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words.compare(i, 3, "\u2019") == 0) {
      i += 2;
    } else if (words[i] != ' ' && words[i] != '\'' && words[i] != '.') {
      bare += words[i];
    }
  }
  for (auto const* w : {"", "?", "dontknow", "donotknow", "unknown", "noidea", "notknown"}) {
    if (bare == w) return true;
  }
  return false;
}

/// A temperature [degC], such as "16", "16 °C", "61F"; nothing when it is none.
/// @param fahrenheit the unit of a number without one
inline std::optional<Measured> temperature(std::string_view text, bool fahrenheit) {
  auto const words = detail::plain(text);
  detail::Scan s(words);
  auto const value = s.number();
  if (!value) return std::nullopt;
  s.spaces();
  if (!s.take("\u00b0") && (s.take("degrees") || s.take("degree") || s.take("deg"))) s.take(".");
  s.spaces();
  Measured m{*value, !s.done()};
  for (char const c : s.rest()) {
    if (c < 'a' || c > 'z') return std::nullopt;
  }
  if (m.unit_said) {
    // Letters are a unit of temperature or nothing that is understood.
    if (s.rest().front() != 'c' && s.rest().front() != 'f') return std::nullopt;
    fahrenheit = s.rest().front() == 'f';
  }
  if (fahrenheit) m.value = (m.value - 32.0) / 1.8;
  return m;
}

/// A length [mm], such as "150", "6 in", "6\"", "1,4 m"; nothing when it is none.
/// @param unit "mm", "m", "in" or "ft", of a number without one
inline std::optional<Measured> length(std::string_view text, std::string_view unit) {
  auto const words = detail::plain(text);
  detail::Scan s(words);
  auto const value = s.number();
  if (!value) return std::nullopt;
  s.spaces();
  struct Unit {
    std::string_view word;
    double millimetres;
  };
  static constexpr Unit units[] = {
      {"mm", 1.0},    {"cm", 10.0},    {"m", 1e3},      {"metre", 1e3},  {"metres", 1e3},
      {"meter", 1e3}, {"meters", 1e3}, {"in", 25.4},    {"inch", 25.4},  {"inches", 25.4},
      {"\"", 25.4},   {"ft", 304.8},   {"feet", 304.8}, {"foot", 304.8}, {"'", 304.8}};
  auto const said = s.done() ? unit : s.rest();
  for (auto const& u : units) {
    if (u.word == said) return Measured{*value * u.millimetres, !s.done()};
  }
  return std::nullopt;
}

/// A duration [min]: "14", "14 min", "1:20", "1 h 20"; nothing when it is none.
inline std::optional<double> minutes(std::string_view text) {
  auto const words = detail::plain(text);
  detail::Scan hours(words);
  auto const whole = hours.digits(9);
  hours.spaces();
  if (!whole.empty() &&
      (hours.take(":") || hours.take("hours") || hours.take("hour") || hours.take("h"))) {
    hours.spaces();
    auto const rest = hours.digits(2);
    hours.spaces();
    hours.take("min");
    int const left = rest.empty() ? 0 : detail::whole_of(rest);
    if (!hours.done() || left >= 60) return std::nullopt;
    return 60.0 * detail::whole_of(whole) + left;
  }
  detail::Scan s(words);
  auto const value = s.number();
  if (!value) return std::nullopt;
  s.spaces();
  if (!(s.take("minutes") || s.take("minute") || s.take("min"))) s.take("'");
  return s.done() ? value : std::nullopt;
}

/// A time of day [min after midnight]: "9:12", "09.12", "2:05 pm"; nothing when it is none.
inline std::optional<double> clock(std::string_view text) {
  auto const words = detail::plain(text);
  detail::Scan s(words);
  auto const hours = s.digits(2);
  s.spaces();
  if (hours.empty() || !(s.take(":") || s.take(".") || s.take("h"))) return std::nullopt;
  s.spaces();
  auto const rest = s.digits(2);
  if (rest.size() != 2) return std::nullopt;
  s.spaces();
  int hour = detail::whole_of(hours);
  bool const pm = s.take("pm");
  if (pm || s.take("am")) {
    if (hour < 1 || hour > 12) return std::nullopt;
    hour = hour % 12 + (pm ? 12 : 0);
  }
  int const minute = detail::whole_of(rest);
  if (!s.done() || hour >= 24 || minute >= 60) return std::nullopt;
  return 60.0 * hour + minute;
}

/// A moment as "14:07", "03:10 next day", "03:10, 2 days later".
/// @param moment [min after midnight of the day of mixing]
/// @param up round up, for what must be waited for; else down, for what ends
inline std::string clock_words(double moment, bool up) {
  double const all = decide::whole(moment, up);
  double const days = std::floor(all / day);
  int const rest = static_cast<int>(all - day * days);
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%02d:%02d", rest / 60, rest % 60);
  std::string words = text.data();
  if (days == 0.0) return words;
  if (days == 1.0) return words + " next day";
  return words + ", " + shown(days) + " days later";
}

}  // namespace cure::job
