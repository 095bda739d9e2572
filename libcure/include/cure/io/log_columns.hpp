#pragma once
/// Which columns of a logger's table are times, and which temperatures, by their headings.

#include <algorithm>
#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/io/clock_times.hpp"
#include "cure/io/csv_table.hpp"
#include "cure/units.hpp"

namespace cure::io::detail {

/// A unit of a column, and what makes SI of it.
struct ColumnUnit {
  std::string_view name;
  double factor, offset;
};

inline constexpr std::array<ColumnUnit, 9> time_units{{{"min", 60.0, 0.0},
                                                       {"s", 1.0, 0.0},
                                                       {"h", 3600.0, 0.0},
                                                       {"sec", 1.0, 0.0},
                                                       {"seconds", 1.0, 0.0},
                                                       {"mins", 60.0, 0.0},
                                                       {"minutes", 60.0, 0.0},
                                                       {"hours", 3600.0, 0.0},
                                                       {"std", 3600.0, 0.0}}};
inline constexpr double fahrenheit_offset = zero_celsius - 32.0 / 1.8;
inline constexpr std::array<ColumnUnit, 8> temperature_units{
    {{"c", 1.0, zero_celsius},
     {"f", 1.0 / 1.8, fahrenheit_offset},
     {"k", 1.0, 0.0},
     {"celsius", 1.0, zero_celsius},
     {"fahrenheit", 1.0 / 1.8, fahrenheit_offset},
     {"kelvin", 1.0, 0.0},
     {"\u2103", 1.0, zero_celsius},
     {"\u2109", 1.0 / 1.8, fahrenheit_offset}}};

template <class Units>
std::optional<ColumnUnit> unit_named(Units const& units, std::string_view name) {
  auto const at =
      std::find_if(units.begin(), units.end(), [&](auto const& u) { return u.name == name; });
  return at == units.end() ? std::nullopt : std::optional(*at);
}

enum class ColumnKind { other, counted, elapsed, clock, date, unknown_time, temperature };

/// What a heading says of its column.
struct ColumnHead {
  ColumnKind kind = ColumnKind::other;
  std::optional<ColumnUnit> unit = {};
  std::string unknown_unit = {};  ///< as it stands
};

/// Length of the first of some names at the start of a heading in lower case, where no letter goes
/// on; 0 where it is another.
template <std::size_t n>
std::size_t name_length(std::string_view heading, std::array<std::string_view, n> const& names) {
  for (auto const name : names) {
    auto const size = name.size();
    bool const ends = size >= heading.size() || heading[size] < 'a' || heading[size] > 'z';
    if (heading.starts_with(name) && ends) return size;
  }
  return 0;
}

inline std::string_view first_word(std::string_view text) {
  text.remove_prefix(std::min(text.find_first_not_of(" \t\v\f_,/[(."), text.size()));
  return text.substr(0, text.find_first_of(" \t\v\f[]()"));
}

/// The unit of a temperature anywhere in a heading in lower case: with a degree sign; or else by
/// its letter after a bracket, underline, comma or stroke, or next to the name.
/// @param after the name of the quantity; 0 where it has none
inline std::optional<ColumnUnit> temperature_unit(std::string_view heading, std::size_t after) {
  constexpr std::string_view ends = " \t\v\f_,/[](){}:;";
  for (bool const sign_needed : {true, false}) {
    bool sign_before = false, first = after > 0;
    for (std::size_t begin = after; begin < heading.size();) {
      auto const end = std::min(heading.find_first_of(ends, begin), heading.size());
      auto word = heading.substr(begin, end - begin);
      if (first) word.remove_prefix(std::min(word.find_first_not_of('.'), word.size()));
      char const before = begin == 0 ? ' ' : heading[begin - 1];
      begin = end + 1;
      if (word.empty()) continue;
      bool sign = sign_before || word.size() > 1;
      for (std::string_view const degree :
           {"degrees", "degree", "deg", "\u00C2\u00B0", "\u00B0", "\u00BA", "\uFFFD", "?"}) {
        if (!word.starts_with(degree)) continue;
        word.remove_prefix(degree.size());
        sign = true;
        break;
      }
      sign_before = word.empty();
      auto const unit = unit_named(temperature_units, word);
      bool const marked = std::string_view("_,/[(").find(before) != std::string_view::npos;
      if (unit && (sign || (!sign_needed && (marked || first)))) return unit;
      first = false;
    }
  }
  return std::nullopt;
}

inline ColumnHead head_of(std::string_view cell) {
  auto const heading = lower(cell);
  std::string letters;
  for (char const c : heading) {
    if (c >= 'a' && c <= 'z') letters += c;
  }
  for (std::string_view const stamp : {"datetime", "dateandtime", "timestamp", "datumzeit",
                                       "datumuhrzeit", "datumundzeit", "zeitstempel"}) {
    if (letters.starts_with(stamp)) return {ColumnKind::clock};
  }
  constexpr std::array<std::string_view, 2> dates{"date", "datum"};
  if (name_length(heading, dates) > 0) return {ColumnKind::date};
  constexpr std::array<std::string_view, 3> gone{"elapsed time", "elapsed_time", "elapsed"};
  constexpr std::array<std::string_view, 6> times{"time", "t", "zeit", "uhrzeit", "uhr", "clock"};
  auto const elapsed = name_length(heading, gone);
  if (auto const name = elapsed > 0 ? elapsed : name_length(heading, times); name > 0) {
    auto const word = first_word(std::string_view(heading).substr(name));
    if (auto const unit = unit_named(time_units, word)) return {ColumnKind::counted, unit};
    auto const kind = elapsed > 0 ? ColumnKind::elapsed : ColumnKind::clock;
    bool const clock = word.empty() || word.find(':') != std::string_view::npos ||
                       word.starts_with("utc") || word.starts_with("gmt") || word == "local" ||
                       word == "uhr";
    if (clock) return {kind};
    // "T1 [°C]" is no time.
    if (name > 1) {
      return {ColumnKind::unknown_time, {}, std::string(first_word(cell.substr(name)))};
    }
  }
  constexpr std::array<std::string_view, 3> temperatures{"temperature", "temp", "temperatur"};
  auto const name = name_length(heading, temperatures);
  auto const unit = temperature_unit(heading, name);
  if (name == 0 && !unit) return {};
  return {ColumnKind::temperature, unit, std::string(first_word(cell.substr(name)))};
}

/// The columns of a table.
struct LogColumns {
  std::vector<std::string> titles;  ///< without quotes and blanks about them
  std::vector<ColumnHead> heads;

  explicit LogColumns(std::vector<std::string> const& heading) {
    for (auto const& cell : heading) {
      titles.emplace_back(trimmed(trimmed(cell), "\""));
      heads.push_back(head_of(titles.back()));
    }
  }
  [[nodiscard]] std::vector<std::size_t> of(ColumnKind kind) const {
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < heads.size(); ++i) {
      if (heads[i].kind == kind) found.push_back(i);
    }
    return found;
  }
  [[nodiscard]] bool has_times() const {
    return std::any_of(heads.begin(), heads.end(), [](auto const& h) {
      return h.kind != ColumnKind::other && h.kind != ColumnKind::temperature &&
             h.kind != ColumnKind::unknown_time;
    });
  }
  [[nodiscard]] bool has_temperatures() const { return !of(ColumnKind::temperature).empty(); }
};

/// Which line is the heading: loggers write lines about themselves above it. The first that has
/// times and temperatures, else the first with times and something else, else the first line.
inline std::size_t heading_line(std::vector<Line> const& lines) {
  constexpr std::size_t furthest = 300;
  std::optional<std::size_t> times_only;
  for (std::size_t i = 0; i < std::min(lines.size(), furthest); ++i) {
    auto const cells = cells_of(lines[i].text, separator_of(lines[i].text));
    if (!cells || cells->size() < 2) continue;
    LogColumns const columns(*cells);
    if (!columns.has_times()) continue;
    if (columns.has_temperatures()) return i;
    if (!times_only) times_only = i;
  }
  return times_only.value_or(0);
}

/// Takes a row of units below the heading into it.
inline void merge_units(Table& table) {
  if (table.rows.empty()) return;
  auto const& units = table.rows.front();
  bool unit = false;
  for (auto const& cell : units) {
    if (cell.find_first_of("0123456789") != std::string::npos) return;
    unit = unit || temperature_unit("[" + lower(trimmed(trimmed(cell), "[]()")), 0);
  }
  if (!unit) return;
  for (std::size_t i = 0; i < std::min(units.size(), table.heading.size()); ++i) {
    auto const words = trimmed(trimmed(units[i], blanks), "[]()");
    if (!words.empty()) table.heading[i] += " [" + std::string(words) + "]";
  }
  table.rows.erase(table.rows.begin());
  table.lines.erase(table.lines.begin());
}

}  // namespace cure::io::detail
