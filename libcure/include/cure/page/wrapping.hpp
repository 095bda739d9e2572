#pragma once
/// Text in the columns of a terminal: how wide UTF-8 is there, and lines of a given width.
///
/// Widths after Unicode Standard Annex 11 (East Asian Width: W and F are two columns wide) and the
/// general categories Mn and Cf (none), by ranges of code points, from memory: scripts that combine
/// otherwise than by diacritics may come out too wide, never too narrow for the line.

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdio>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/arithmetic.hpp"

namespace cure::page {

namespace detail {

struct CodePoint {
  char32_t value = 0;
  std::size_t bytes = 1;
  bool valid = false;
};

/// The first code point of `text`, which is not empty.
inline CodePoint first_code_point(std::string_view text) {
  auto const byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  unsigned const lead = byte(0);
  std::size_t const bytes = lead < 0x80                    ? 1
                            : lead >= 0xC2 && lead < 0xE0  ? 2
                            : lead >= 0xE0 && lead < 0xF0  ? 3
                            : lead >= 0xF0 && lead <= 0xF4 ? 4
                                                           : 0;
  if (bytes == 0 || bytes > text.size()) return {};
  char32_t value = bytes == 1 ? lead : lead & (0xFFU >> (bytes + 1));
  for (std::size_t i = 1; i < bytes; ++i) {
    if ((byte(i) & 0xC0U) != 0x80U) return {};
    value = (value << 6U) | (byte(i) & 0x3FU);
  }
  // Overlong forms, surrogates, and what lies beyond the last plane.
  constexpr std::array<char32_t, 5> least{0, 0, 0x80, 0x800, 0x10000};
  bool const valid =
      value >= least[bytes] && !(value >= 0xD800 && value < 0xE000) && value <= 0x10FFFF;
  return valid ? CodePoint{value, bytes, true} : CodePoint{};
}

using CodeRange = std::pair<char32_t, char32_t>;

template <std::size_t n>
bool within(std::array<CodeRange, n> const& ranges, char32_t c) {
  return std::any_of(ranges.begin(), ranges.end(),
                     [&](CodeRange const& r) { return c >= r.first && c <= r.second; });
}

/// Controls, line ends, and what turns the direction of writing: they could forge a page.
inline bool is_control(char32_t c) {
  static constexpr std::array<CodeRange, 6> controls{{{0x00, 0x1F},
                                                      {0x7F, 0x9F},
                                                      {0x200E, 0x200F},
                                                      {0x2028, 0x202E},
                                                      {0x2066, 0x2069},
                                                      {0xFEFF, 0xFEFF}}};
  return within(controls, c);
}

inline std::size_t columns_of(char32_t c) {
  static constexpr std::array<CodeRange, 6> none{{{0x0300, 0x036F},
                                                  {0x0483, 0x0489},
                                                  {0x1AB0, 0x1AFF},
                                                  {0x1DC0, 0x1DFF},
                                                  {0x200B, 0x200D},
                                                  {0xFE00, 0xFE0F}}};
  static constexpr std::array<CodeRange, 11> two{{{0x1100, 0x115F},
                                                  {0x2E80, 0x303E},
                                                  {0x3041, 0x4DBF},
                                                  {0x4E00, 0xA4CF},
                                                  {0xA960, 0xA97F},
                                                  {0xAC00, 0xD7A3},
                                                  {0xF900, 0xFAFF},
                                                  {0xFE30, 0xFE6F},
                                                  {0xFF01, 0xFF60},
                                                  {0x1F300, 0x1FAFF},
                                                  {0x20000, 0x3FFFD}}};
  return within(none, c) ? 0 : within(two, c) ? 2 : 1;
}

}  // namespace detail

/// Fit for one line: controls written out as \x07 or \u2028, bytes that are no UTF-8 replaced.
inline std::string one_line(std::string_view text) {
  std::string shown;
  while (!text.empty()) {
    auto const c = detail::first_code_point(text);
    if (!c.valid) {
      shown += "\uFFFD";
    } else if (detail::is_control(c.value)) {
      char escaped[12];
      std::snprintf(escaped, sizeof escaped, c.value < 0x100 ? "\\x%02x" : "\\u%04x",
                    static_cast<unsigned>(c.value));
      shown += escaped;
    } else {
      shown += text.substr(0, c.bytes);
    }
    text.remove_prefix(c.bytes);
  }
  return shown;
}

/// Columns that a line takes. @param text as one_line gives it
inline std::size_t columns(std::string_view text) {
  std::size_t total = 0;
  while (!text.empty()) {
    auto const c = detail::first_code_point(text);
    total += detail::columns_of(c.value);
    text.remove_prefix(c.bytes);
  }
  return total;
}

/// Lines of at most `width` columns, broken at spaces; a word that is longer is cut. One line at
/// least. @param width at least 2
inline std::vector<std::string> wrapped(std::string_view text, std::size_t width) {
  std::vector<std::string> lines{""};
  std::size_t used = 0;
  while (!text.empty()) {
    auto const end = std::min(text.find(' '), text.size());
    auto word = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    if (word.empty()) continue;
    if (used != 0 && used + 1 + columns(word) <= width) {
      lines.back() += ' ';
      ++used;
    } else if (used != 0) {
      lines.emplace_back();
      used = 0;
    }
    while (!word.empty()) {
      auto const c = detail::first_code_point(word);
      auto const wide = detail::columns_of(c.value);
      if (used + wide > width) {
        lines.emplace_back();
        used = 0;
      }
      lines.back() += word.substr(0, c.bytes);
      used += wide;
      word.remove_prefix(c.bytes);
    }
  }
  return lines;
}

}  // namespace cure::page
