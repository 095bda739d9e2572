#pragma once
/// What was meant by a number that cannot be taken: for messages only, nothing is taken in its
/// place. Of words see cure/near_words.hpp.

#include <algorithm>
#include <cmath>
#include <string>
#include <string_view>

#include "cure/io/csv_table.hpp"
#include "cure/near_words.hpp"

namespace cure::io {

/// "; write 6.5" of a text that is a number with a decimal comma, or in quotes; else nothing.
inline std::string number_meant(std::string_view text) {
  if (!std::isfinite(number_in(text, true))) return {};
  std::string plain(detail::trimmed(text));
  bool const comma = plain.find(',') != std::string::npos;
  std::replace(plain.begin(), plain.end(), ',', '.');
  if (plain.starts_with('+')) plain.erase(0, 1);
  auto const point = plain.find('.');
  if (point != std::string::npos && (point == 0 || plain[point - 1] == '-')) {
    plain.insert(point, 1, '0');
  }
  return "; write " + plain + (comma ? "" : " without quotes");
}

/// The same of a JSON text, where a comma within a number is a mistake of syntax.
inline std::string number_meant_in(std::string_view json) {
  constexpr std::string_view digits = "0123456789";
  for (auto colon = json.find(':'); colon != std::string_view::npos;
       colon = json.find(':', colon + 1)) {
    auto const begin = json.find_first_not_of(" \t\r\n", colon + 1);
    if (begin == std::string_view::npos) break;
    auto const comma = json.find_first_not_of("+-0123456789", begin);
    if (comma == std::string_view::npos || comma == begin || json[comma] != ',') continue;
    auto const end = std::min(json.find_first_not_of(digits, comma + 1), json.size());
    if (end > comma + 1) return number_meant(json.substr(begin, end - begin));
  }
  return {};
}

}  // namespace cure::io
