#pragma once
/// Text of files that instruments write, as UTF-8: UTF-8, UTF-16 with or without a byte-order mark,
/// and Latin-1.
///
/// A byte that is no UTF-8 is taken for Latin-1, one by one, so that a damaged byte costs its own
/// letter. What was cut in the middle of a letter, as of a file that is still being written, is
/// left off. Source of the encodings: The Unicode Standard, chapter 3.9; ISO/IEC 8859-1.

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <string_view>
#include <system_error>

#include "cure/error.hpp"

namespace cure::io {

namespace detail {

/// Bytes of the letter of UTF-8 that begins here; 0 where none does, also where it is cut.
inline std::size_t utf8_letter(std::string_view text) {
  auto const c = static_cast<unsigned char>(text.front());
  std::size_t const size = c < 0x80u                 ? 1
                           : c >= 0xC2u && c < 0xE0u ? 2
                           : c >= 0xE0u && c < 0xF0u ? 3
                           : c >= 0xF0u && c < 0xF5u ? 4
                                                     : 0;
  if (size > text.size()) return 0;
  for (std::size_t i = 1; i < size; ++i) {
    if ((static_cast<unsigned char>(text[i]) & 0xC0u) != 0x80u) return 0;
  }
  return size;
}

/// Whether a text is the begin of a letter of UTF-8 that was cut.
inline bool cut_letter(std::string_view text) {
  auto const c = static_cast<unsigned char>(text.front());
  std::size_t const size = c >= 0xF0u ? 4 : c >= 0xE0u ? 3 : 2;
  if (c < 0xC2u || c >= 0xF5u || text.size() >= size) return false;
  return text.find_first_not_of(
             "\x80\x81\x82\x83\x84\x85\x86\x87\x88\x89\x8A\x8B\x8C\x8D\x8E\x8F"
             "\x90\x91\x92\x93\x94\x95\x96\x97\x98\x99\x9A\x9B\x9C\x9D\x9E\x9F"
             "\xA0\xA1\xA2\xA3\xA4\xA5\xA6\xA7\xA8\xA9\xAA\xAB\xAC\xAD\xAE\xAF"
             "\xB0\xB1\xB2\xB3\xB4\xB5\xB6\xB7\xB8\xB9\xBA\xBB\xBC\xBD\xBE\xBF",
             1) == std::string_view::npos;
}

inline void append_utf8(std::string& text, std::uint32_t letter) {
  auto const put = [&](std::uint32_t byte) {
    text += static_cast<char>(static_cast<unsigned char>(byte));
  };
  if (letter < 0x80u) {
    put(letter);
  } else if (letter < 0x800u) {
    put(0xC0u | (letter >> 6u));
    put(0x80u | (letter & 0x3Fu));
  } else if (letter < 0x10000u) {
    put(0xE0u | (letter >> 12u));
    put(0x80u | ((letter >> 6u) & 0x3Fu));
    put(0x80u | (letter & 0x3Fu));
  } else {
    put(0xF0u | (letter >> 18u));
    put(0x80u | ((letter >> 12u) & 0x3Fu));
    put(0x80u | ((letter >> 6u) & 0x3Fu));
    put(0x80u | (letter & 0x3Fu));
  }
}

inline std::string from_utf16(std::string_view bytes, bool high_first) {
  auto const unit = [&](std::size_t i) {
    auto const a = static_cast<unsigned char>(bytes[i]);
    auto const b = static_cast<unsigned char>(bytes[i + 1]);
    return high_first ? (std::uint32_t{a} << 8u) | b : (std::uint32_t{b} << 8u) | a;
  };
  std::string text;
  for (std::size_t i = 0; i + 1 < bytes.size(); i += 2) {
    auto letter = unit(i);
    if (letter >= 0xD800u && letter < 0xE000u) {
      bool const pair = letter < 0xDC00u && i + 3 < bytes.size() && unit(i + 2) >= 0xDC00u &&
                        unit(i + 2) < 0xE000u;
      letter = pair ? 0x10000u + ((letter - 0xD800u) << 10u) + (unit(i + 2) - 0xDC00u) : 0xFFFDu;
      if (pair) i += 2;
    }
    append_utf8(text, letter);
  }
  return text;
}

/// Without a mark: of ASCII in UTF-16 every second byte is nothing, at the begin of a file.
inline bool looks_like_utf16(std::string_view bytes, bool high_first) {
  if (bytes.size() < 4) return false;
  for (std::size_t i = 0; i < 4; ++i) {
    bool const high = (i % 2 == 0) == high_first;
    if ((bytes[i] == '\0') != high) return false;
  }
  return true;
}

}  // namespace detail

/// Text of an instrument's file in UTF-8, without a byte-order mark.
inline std::string utf8_of(std::string_view bytes) {
  if (bytes.starts_with("\xFF\xFE")) return detail::from_utf16(bytes.substr(2), false);
  if (bytes.starts_with("\xFE\xFF")) return detail::from_utf16(bytes.substr(2), true);
  for (bool const high_first : {false, true}) {
    if (detail::looks_like_utf16(bytes, high_first)) return detail::from_utf16(bytes, high_first);
  }
  if (bytes.starts_with("\xEF\xBB\xBF")) bytes.remove_prefix(3);
  std::string text;
  text.reserve(bytes.size());
  while (!bytes.empty()) {
    auto size = detail::utf8_letter(bytes);
    if (size == 0 && detail::cut_letter(bytes)) break;
    if (size == 0) {
      detail::append_utf8(text, static_cast<unsigned char>(bytes.front()));
      size = 1;
    } else {
      text.append(bytes.substr(0, size));
    }
    bytes.remove_prefix(size);
  }
  return text;
}

/// Text of an instrument's file in UTF-8. @throws InputError
inline std::string text_of(std::filesystem::path const& path) {
  auto const file = path.string();
  std::error_code error;
  auto const size = std::filesystem::file_size(path, error);
  std::ifstream in(path, std::ios::binary);
  if (error || !in) {
    auto const why = error ? " (" + error.message() + ")" : std::string();
    throw InputError("file", "cannot be read" + why, "a readable file", file);
  }
  if (size > (16u << 20)) throw InputError("file", "too large", "at most 16 MiB", file);
  std::ostringstream out;
  out << in.rdbuf();
  return utf8_of(out.str());
}

}  // namespace cure::io
