#pragma once
/// Readings of a thermocouple from a CSV file with a heading such as "time_min,temperature_C".
///
/// Times count from mixing, in s, min or h; temperatures are in C, F or K. A cell that is empty or
/// no number is a missing reading, not an error: loggers write such. A line that cannot be read,
/// and a last one without a line end, are left out and said. Other columns are left alone.

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/follow/readings.hpp"
#include "cure/io/csv_table.hpp"
#include "cure/units.hpp"

namespace cure::io {

namespace detail {

/// A unit of a column, and what makes SI of it.
struct ColumnUnit {
  std::string_view name;
  double factor, offset;
};

inline std::string lower(std::string_view text) {
  std::string t(text);
  for (char& c : t) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return t;
}

/// Length of the name of a quantity at the start of a heading in lower case; 0 where it is another:
/// "time" or "t", "temperature" or "temp", with a point after it.
inline std::size_t name_length(std::string_view heading, bool time) {
  auto const ends = [&](std::size_t at) {
    return at >= heading.size() || heading[at] < 'a' || heading[at] > 'z';
  };
  if (time) {
    if (heading.starts_with("time")) return 4;
    return heading.starts_with("t") && ends(1) ? 1 : 0;
  }
  if (!heading.starts_with("temp")) return 0;
  std::size_t const at = heading.starts_with("temperature") ? 11 : 4;
  if (!ends(at)) return 0;
  return heading.substr(at).starts_with(".") ? at + 1 : at;
}

/// The unit in a heading such as "time_min" or "Temperature [°C]", empty where there is none;
/// nothing when it names something else.
inline std::optional<std::string> unit_in(std::string_view heading, bool time) {
  auto const name = name_length(lower(heading), time);
  if (name == 0) return std::nullopt;
  auto rest = heading.substr(name);
  rest.remove_prefix(std::min(rest.find_first_not_of(" \t\v\f_,/[("), rest.size()));
  auto const end = std::min(rest.find_first_of(" \t\v\f[]()"), rest.size());
  if (rest.find_first_not_of("])", end) != std::string_view::npos) return std::nullopt;
  return std::string(rest.substr(0, end));
}

inline std::vector<ColumnUnit> const& units_of(bool time) {
  static std::vector<ColumnUnit> const times{
      {"min", 60.0, 0.0}, {"s", 1.0, 0.0}, {"h", 3600.0, 0.0}};
  static std::vector<ColumnUnit> const temperatures{
      {"C", 1.0, zero_celsius}, {"F", 1.0 / 1.8, zero_celsius - 32.0 / 1.8}, {"K", 1.0, 0.0}};
  return time ? times : temperatures;
}

/// The one column of a quantity, in SI; NaN where a row has no number. @throws InputError
inline Eigen::VectorXd column_in(Table const& table, bool time, std::string const& file) {
  auto const& units = units_of(time);
  std::vector<std::pair<std::size_t, ColumnUnit>> found;
  for (std::size_t i = 0; i < table.heading.size(); ++i) {
    auto const cell = trimmed(trimmed(table.heading[i]), "\"");
    auto const unit = unit_in(cell, time);
    if (!unit) continue;
    auto const lowered = lower(*unit);
    std::string_view given = lowered;
    for (std::string_view const sign : {"deg", "°"}) {
      if (given.starts_with(sign)) given.remove_prefix(sign.size());
    }
    auto const known = std::find_if(units.begin(), units.end(),
                                    [&](ColumnUnit const& u) { return lower(u.name) == given; });
    if (known == units.end()) {
      std::string list;
      for (auto const& u : units) list += (list.empty() ? "" : ", ") + std::string(u.name);
      throw InputError("column \"" + std::string(cell) + "\"", "unit \"" + *unit + "\"",
                       "one of " + list, file);
    }
    found.emplace_back(i, *known);
  }
  if (found.size() != 1) {
    std::string const kind = time ? "time" : "temperature";
    throw InputError("heading, " + kind,
                     found.empty()
                         ? "no column for it in \"" + first_letters(table.first_line, 80) + "\""
                         : std::to_string(found.size()) + " columns",
                     "one, such as " + kind + "_" + std::string(units.front().name), file);
  }
  Eigen::VectorXd values(numerics::index(table.rows.size()));
  auto const& [column, unit] = found.front();
  for (std::size_t row = 0; row < table.rows.size(); ++row) {
    values(numerics::index(row)) = table.number(row, column) * unit.factor + unit.offset;
  }
  return values;
}

}  // namespace detail

/// @param file the text came from, for messages
/// @throws InputError for a column or a unit that is missing or unknown, and where no row holds a
/// number
inline follow::Readings parse_readings(std::string_view text, std::string const& file) {
  auto const table =
      parse_table(text, "a heading such as time_min,temperature_C and rows of numbers", file);
  if (table.rows.size() > follow::most_readings) {
    throw InputError("file", std::to_string(table.rows.size()) + " rows",
                     "at most " + std::to_string(follow::most_readings), file);
  }
  follow::Readings r(detail::column_in(table, true, file), detail::column_in(table, false, file));
  if (!table.rows.empty() && !(r.time.array() * r.temperature.array()).isFinite().any()) {
    throw InputError("rows", std::to_string(table.rows.size()) + " without a number",
                     "numbers; with a decimal comma, semicolons between cells", file);
  }
  r.file = file;
  r.left_out = table.left_out();
  return r;
}

/// @throws InputError as parse_readings, and for a file that cannot be read
inline follow::Readings read_readings(std::filesystem::path const& path) {
  return parse_readings(text_of(path), path.string());
}

}  // namespace cure::io
