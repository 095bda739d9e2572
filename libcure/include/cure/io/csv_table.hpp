#pragma once
/// Tables of numbers as instruments write them: a heading with units, and rows in one of the usual
/// separators.
///
/// Comma, semicolon or tab between cells; with the latter two a decimal comma is understood. One
/// line is one row, and quotes close within it. Lines that begin with # are comments, unless a
/// separator follows at once: there # heads the column of row numbers. A last line without a line
/// end may have been cut and is no row.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/io/number_text.hpp"

namespace cure::io {

namespace detail {

inline constexpr std::string_view blanks = " \t\r\n\v\f";

inline std::string_view trimmed(std::string_view text, std::string_view what = blanks) {
  auto const begin = text.find_first_not_of(what);
  if (begin == std::string_view::npos) return {};
  return text.substr(begin, text.find_last_not_of(what) - begin + 1);
}

/// The first letters of a text in UTF-8.
inline std::string first_letters(std::string_view text, std::size_t most) {
  std::size_t end = 0;
  for (std::size_t letters = 0; end < text.size(); ++end) {
    bool const begins = (static_cast<unsigned char>(text[end]) & 0xC0u) != 0x80u;
    if (begins && ++letters > most) break;
  }
  return std::string(text.substr(0, end));
}

/// Cells of a line; nothing where a quote does not close or stands inside a cell.
inline std::optional<std::vector<std::string>> cells_of(std::string_view line, char separator) {
  std::vector<std::string> cells;
  for (std::size_t i = 0;; ++i) {
    std::string cell;
    if (i < line.size() && line[i] == '"') {
      for (++i;; ++i) {
        if (i >= line.size()) return std::nullopt;
        if (line[i] == '"' && (++i >= line.size() || line[i] != '"')) break;
        cell += line[i];
      }
      if (i < line.size() && line[i] != separator) return std::nullopt;
    } else {
      for (; i < line.size() && line[i] != separator; ++i) {
        if (line[i] == '"') return std::nullopt;
        cell += line[i];
      }
    }
    cells.push_back(std::move(cell));
    if (i >= line.size()) return cells;
  }
}

}  // namespace detail

/// A text as a finite number; NaN where it is none.
inline double number_in(std::string_view text, bool decimal_comma) {
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  std::string plain(detail::trimmed(text));
  if (decimal_comma) std::replace(plain.begin(), plain.end(), ',', '.');
  std::string_view digits = plain;
  if (digits.starts_with('+') && !digits.starts_with("+-")) digits.remove_prefix(1);
  double const value = number_of(digits);
  return std::isfinite(value) ? value : none;
}

/// Cells as texts.
struct Table {
  std::string first_line;  ///< the heading as it stands in the file
  std::vector<std::string> heading;
  std::vector<std::vector<std::string>> rows;
  std::vector<std::size_t> lines;            ///< of each row in the file, from 1
  bool decimal_comma = false;                ///< whether a comma in a number is its decimal one
  std::vector<std::size_t> unreadable = {};  ///< lines with a quote that is not closed, or inside
  /// A last line without a line end, as of a file that is still being written: no row.
  std::optional<std::size_t> unended = {};

  /// A cell as a finite number; NaN where it is none, or the row is too short.
  [[nodiscard]] double number(std::size_t row, std::size_t column) const {
    if (column >= rows[row].size()) return std::numeric_limits<double>::quiet_NaN();
    return number_in(rows[row][column], decimal_comma);
  }

  /// What is no row, in plain sentences.
  [[nodiscard]] std::vector<std::string> left_out() const {
    std::vector<std::string> said;
    if (!unreadable.empty()) {
      std::string few;
      for (std::size_t i = 0; i < std::min<std::size_t>(unreadable.size(), 5); ++i) {
        few += (i == 0 ? "" : ", ") + std::to_string(unreadable[i]);
      }
      said.push_back(std::string(unreadable.size() > 1 ? "Lines " : "Line ") + few +
                     (unreadable.size() > 5 ? ", …" : "") +
                     " cannot be read (a stray quote); not used.");
    }
    if (unended) {
      said.push_back("Line " + std::to_string(*unended) +
                     ", the last one, has no line end: it may still be being written, and is not "
                     "used.");
    }
    return said;
  }
};

/// A line that is not empty and no comment.
struct Line {
  std::size_t number = 0;  ///< in the file, from 1
  std::string_view text;
  bool ended = true;  ///< by a line end
};

inline std::vector<Line> lines_of(std::string_view text) {
  std::vector<Line> lines;
  std::size_t count = 0;
  for (std::size_t begin = 0; begin <= text.size();) {
    auto const end = std::min(text.find_first_of("\r\n", begin), text.size());
    auto const line = text.substr(begin, end - begin), words = detail::trimmed(line);
    ++count;
    bool const comment =
        words.starts_with('#') &&
        (words.size() < 2 || std::string_view(",;\t").find(words[1]) == std::string_view::npos);
    if (!words.empty() && !comment) lines.push_back({count, line, end < text.size()});
    begin = end + (text.substr(end, 2) == "\r\n" ? 2 : 1);
  }
  return lines;
}

/// What stands between the cells of a line and those below it.
inline char separator_of(std::string_view line) {
  if (line.find(';') != std::string_view::npos) return ';';
  return line.find('\t') != std::string_view::npos ? '\t' : ',';
}

/// The table whose heading is one of the lines; those above it are left alone.
/// @throws InputError for a heading that cannot be read
inline Table table_below(std::vector<Line> const& lines, std::size_t first,
                         std::string const& file) {
  auto const& line = lines[first];
  char const separator = separator_of(line.text);
  auto heading = detail::cells_of(line.text, separator);
  Table t;
  t.first_line = detail::trimmed(line.text);
  if (!heading) {
    throw InputError("line " + std::to_string(line.number), detail::first_letters(t.first_line, 80),
                     "a heading whose quotes close", file);
  }
  t.heading = std::move(*heading);
  t.decimal_comma = separator != ',';
  for (std::size_t i = first + 1; i < lines.size(); ++i) {
    if (!lines[i].ended) {
      t.unended = lines[i].number;
    } else if (auto cells = detail::cells_of(lines[i].text, separator)) {
      t.rows.push_back(std::move(*cells));
      t.lines.push_back(lines[i].number);
    } else {
      t.unreadable.push_back(lines[i].number);
    }
  }
  return t;
}

/// A table whose heading is the first line.
/// @param needed what an empty file lacks, and @param file it came from, for messages
/// @throws InputError for an empty one, or one whose heading cannot be read
inline Table parse_table(std::string_view text, std::string const& needed,
                         std::string const& file) {
  auto const lines = lines_of(text);
  if (lines.empty()) throw InputError("file", "empty", needed, file);
  return table_below(lines, 0, file);
}

}  // namespace cure::io
