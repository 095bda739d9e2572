#pragma once
/// Readings of a thermocouple from a CSV file as loggers write them, with a heading such as
/// "time_min,temperature_C", below lines about the logger if there are any.
///
/// Times count from mixing, in s, min or h, or as h:mm:ss under "elapsed"; or they are times of
/// day, with or without dates, and that of mixing is told (`clock_times.hpp`). Temperatures are in
/// C, F or K. Of several columns of temperatures one is named. A cell that is empty or no number is
/// a missing reading, not an error: loggers write such. A line that cannot be read, and a last one
/// without a line end, are left out and said. Other columns are left alone.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/follow/readings.hpp"
#include "cure/io/clock_times.hpp"
#include "cure/io/csv_table.hpp"
#include "cure/io/log_columns.hpp"
#include "cure/io/log_text.hpp"

namespace cure::io {

/// What a person says of a log.
struct LogOptions {
  /// Title of the column of temperatures, a part of it, or its number among them from 1; empty
  /// where there is one.
  std::string channel = {};
  /// Time of day of mixing by the logger's clock, such as "22:30" or "2026-03-24 22:30"; empty
  /// where times count from mixing.
  std::string mixed_at = {};
};

namespace detail {

/// A table and what its headings say.
struct Log {
  Table table;
  LogColumns columns;
  LogOptions const& options;
  std::string const& file;

  Log(Table t, LogOptions const& o, std::string const& f)
      : table(std::move(t)), columns(table.heading), options(o), file(f) {}

  [[nodiscard]] std::string quoted(std::size_t column) const {
    return "\"" + columns.titles[column] + "\"";
  }
  [[nodiscard]] std::string_view cell(std::size_t row, std::size_t column) const {
    auto const& cells = table.rows[row];
    return column < cells.size() ? std::string_view(cells[column]) : std::string_view();
  }
  [[noreturn]] void no_column(std::string const& kind, std::string const& found,
                              std::string const& allowed) const {
    throw InputError("heading, " + kind, found, allowed, file);
  }
  [[noreturn]] void unknown_unit(std::size_t column, std::string const& allowed) const {
    throw InputError("column " + quoted(column),
                     "unit \"" + columns.heads[column].unknown_unit + "\"", "one of " + allowed,
                     file);
  }
  [[nodiscard]] std::string not_there() const {
    return "no column for it in \"" + first_letters(table.first_line, 80) + "\"";
  }
  /// Numbers of a column in SI; NaN where there is none.
  template <class Number>
  [[nodiscard]] Eigen::VectorXd values(Number const& number) const {
    Eigen::VectorXd v(numerics::index(table.rows.size()));
    for (std::size_t row = 0; row < table.rows.size(); ++row) v(numerics::index(row)) = number(row);
    return v;
  }
};

/// Moments of a column of times of day, with dates of a column of their own if there is one.
inline std::vector<std::optional<Stamp>> stamps_of(Log const& log, std::size_t clock) {
  auto const dates = log.columns.of(ColumnKind::date);
  std::vector<std::optional<Stamp>> stamps;
  for (std::size_t row = 0; row < log.table.rows.size(); ++row) {
    auto stamp = stamp_of(log.cell(row, clock));
    if (stamp && !stamp->date && !dates.empty() && dates.front() != clock) {
      auto const date = stamp_of(log.cell(row, dates.front()));
      if (date) stamp->date = date->date;
    }
    stamps.push_back(std::move(stamp));
  }
  return stamps;
}

inline bool any_time(std::vector<std::optional<Stamp>> const& stamps) {
  return std::any_of(stamps.begin(), stamps.end(),
                     [](auto const& s) { return s && s->time_of_day; });
}

/// Times from mixing in the one column that counts them. @throws InputError
inline Eigen::VectorXd counted_times(Log const& log) {
  auto const counted = log.columns.of(ColumnKind::counted);
  auto const elapsed = log.columns.of(ColumnKind::elapsed);
  if (counted.size() > 1) {
    log.no_column("time", std::to_string(counted.size()) + " columns", "one, such as time_min");
  }
  if (!counted.empty()) {
    auto const unit = *log.columns.heads[counted.front()].unit;
    return log.values(
        [&](std::size_t row) { return log.table.number(row, counted.front()) * unit.factor; });
  }
  return log.values([&](std::size_t row) { return elapsed_in(log.cell(row, elapsed.front())); });
}

/// Times from mixing [s]. @throws InputError
inline Eigen::VectorXd times_in(Log const& log) {
  auto candidates = log.columns.of(ColumnKind::clock);
  auto const dates = log.columns.of(ColumnKind::date);
  candidates.insert(candidates.end(), dates.begin(), dates.end());
  bool const counts =
      !log.columns.of(ColumnKind::counted).empty() || !log.columns.of(ColumnKind::elapsed).empty();
  bool const clock_wanted = !log.options.mixed_at.empty();
  if (counts && !clock_wanted) return counted_times(log);
  for (auto const column : candidates) {
    auto const stamps = stamps_of(log, column);
    if (!any_time(stamps)) continue;
    if (!clock_wanted) {
      throw InputError("mixed_at", "missing: " + log.quoted(column) + " has times of day",
                       "the time of day of mixing by the logger's clock, such as 22:30", log.file);
    }
    return since_mixing(stamps, log.options.mixed_at, log.file);
  }
  if (counts) {
    throw InputError("mixed_at", "\"" + log.options.mixed_at + "\"",
                     "none: the log has no times of day, its times count from mixing", log.file);
  }
  constexpr char const* units = "min, s, h, or times of day such as 22:58 with mixed_at";
  for (auto const kind : {ColumnKind::unknown_time, ColumnKind::clock}) {
    auto const found = log.columns.of(kind);
    if (!found.empty()) log.unknown_unit(found.front(), units);
  }
  log.no_column("time", log.not_there(), "one, such as time_min");
}

/// Titles of channels with their numbers.
inline std::string listed(Log const& log, std::vector<std::size_t> const& channels) {
  std::string list;
  for (std::size_t i = 0; i < channels.size(); ++i) {
    list += (i == 0 ? "" : ", ") + std::to_string(i + 1) + " " + log.quoted(channels[i]);
  }
  return list;
}

/// A number of a column of temperatures: no thousands are set off, so that a comma in quotes is a
/// decimal one.
inline double temperature_number(Log const& log, std::size_t row, std::size_t column) {
  return number_in(log.cell(row, column), true);
}

/// The column of temperatures that a person named. @throws InputError
inline std::size_t named_channel(Log const& log, std::vector<std::size_t> const& channels) {
  auto const& given = log.options.channel;
  auto const refuse = [&](char const* why) {
    throw InputError("channel", "\"" + given + "\"" + why, "one of " + listed(log, channels),
                     log.file);
  };
  if (auto const number = number_in(given, false); std::isfinite(number)) {
    for (std::size_t i = 0; i < channels.size(); ++i) {
      if (number == static_cast<double>(i + 1)) return channels[i];
    }
  }
  auto const wanted = lower(trimmed(given));
  std::vector<std::size_t> parts;
  for (auto const column : channels) {
    auto const title = lower(log.columns.titles[column]);
    if (title == wanted) return column;
    if (title.find(wanted) != std::string::npos) parts.push_back(column);
  }
  if (parts.empty()) refuse("");
  if (parts.size() > 1) refuse(" is a part of several");
  return parts.front();
}

/// The column of temperatures: the one that was named, or the only one with numbers.
/// @throws InputError
inline std::size_t channel_of(Log const& log) {
  auto const channels = log.columns.of(ColumnKind::temperature);
  if (channels.empty()) {
    log.no_column("temperature", log.not_there(), "one, such as temperature_C");
  }
  if (!log.options.channel.empty()) return named_channel(log, channels);
  auto alive = channels;
  std::erase_if(alive, [&](std::size_t column) {
    for (std::size_t row = 0; row < log.table.rows.size(); ++row) {
      if (std::isfinite(temperature_number(log, row, column))) return false;
    }
    return true;
  });
  if (alive.size() == 1) return alive.front();
  if (channels.size() > 1) {
    log.no_column("temperature",
                  std::to_string(channels.size()) + " columns: " + listed(log, channels),
                  "one; channel takes its number or name");
  }
  return channels.front();
}

/// Refuses a comma between cells and in numbers alike: "20,7,5" would be 7 degrees.
inline void refuse_split_numbers(Log const& log) {
  auto const width = log.table.heading.size();
  std::size_t wider = 0;
  for (auto const& cells : log.table.rows) {
    std::size_t filled = cells.size();
    while (filled > width && trimmed(cells[filled - 1]).empty()) --filled;
    if (filled > width) ++wider;
  }
  if (log.table.decimal_comma || 2 * wider <= log.table.rows.size()) return;
  throw InputError("rows", std::to_string(wider) + " have more cells than the heading",
                   "numbers with a decimal point, or semicolons between cells", log.file);
}

}  // namespace detail

/// @param file the text came from, for messages
/// @throws InputError for a column or a unit that is missing or unknown, more than one that may be
/// meant, an option that does not fit, and where no row holds a number
CURE_FUNCTION follow::Readings parse_readings(std::string_view text, std::string const& file,
                                              LogOptions const& options = {});
#if CURE_DEFINES(READINGS)
CURE_FUNCTION follow::Readings parse_readings(std::string_view text, std::string const& file,
                                              LogOptions const& options) {
  auto const lines = lines_of(text);
  if (lines.empty()) {
    throw InputError("file", "empty",
                     "a heading such as time_min,temperature_C and rows of numbers", file);
  }
  auto table = table_below(lines, detail::heading_line(lines), file);
  detail::merge_units(table);
  if (table.rows.size() > follow::most_readings) {
    throw InputError("file", std::to_string(table.rows.size()) + " rows",
                     "at most " + std::to_string(follow::most_readings), file);
  }
  detail::Log const log(std::move(table), options, file);
  auto time = detail::times_in(log);
  auto const channel = detail::channel_of(log);
  auto const unit = log.columns.heads[channel].unit;
  if (!unit) log.unknown_unit(channel, "C, F, K");
  detail::refuse_split_numbers(log);
  follow::Readings r(std::move(time), log.values([&](std::size_t row) {
    return detail::temperature_number(log, row, channel) * unit->factor + unit->offset;
  }));
  if (r.size() > 0 && !(r.time.array() * r.temperature.array()).isFinite().any()) {
    throw InputError("rows", std::to_string(r.size()) + " without a number",
                     "numbers; with a decimal comma, semicolons between cells", file);
  }
  r.file = file;
  r.left_out = log.table.left_out();
  return r;
}
#endif

/// @throws InputError as parse_readings, and for a file that cannot be read
CURE_FUNCTION follow::Readings read_readings(std::filesystem::path const& path,
                                             LogOptions const& options = {});
#if CURE_DEFINES(READINGS)
CURE_FUNCTION follow::Readings read_readings(std::filesystem::path const& path,
                                             LogOptions const& options) {
  return parse_readings(text_of(path), path.string(), options);
}
#endif

}  // namespace cure::io
