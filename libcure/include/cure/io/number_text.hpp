#pragma once
/// A number that is all of a text, as std::from_chars reads it: no space, no sign but minus, a
/// decimal point whatever the locale.

#include <charconv>
#include <cstdlib>
#include <limits>
#include <string>
#include <string_view>
#include <system_error>
#include <version>

#include "cure/arithmetic.hpp"

namespace cure::io {

/// NaN where the text is no such number.
inline double number_of(std::string_view text) {
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  double x = 0.0;
#ifdef __cpp_lib_to_chars
  auto const end = text.data() + text.size();
  auto const [rest, error] = std::from_chars(text.data(), end, x);
  return error == std::errc() && rest == end ? x : none;
#else
  // A library without it, as that of WebAssembly, whose locale is always "C". strtod takes more.
  if (text.empty() || text.find_first_not_of("0123456789.eE+-") != text.npos) return none;
  if (text.front() == '+') return none;
  std::string const own(text);
  char* rest = nullptr;
  x = std::strtod(own.c_str(), &rest);
  // Out of its range is no number there; here it is infinite, or zero of digits that are not.
  bool const beyond =
      x == std::numeric_limits<double>::infinity() ||
      x == -std::numeric_limits<double>::infinity() ||
      (x == 0.0 && own.substr(0, own.find_first_of("eE")).find_first_of("123456789") != own.npos);
  return rest == own.c_str() + own.size() && !beyond ? x : none;
#endif
}

}  // namespace cure::io
