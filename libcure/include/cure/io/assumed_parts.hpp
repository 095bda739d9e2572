#pragma once
/// What a model file assumes: the parts that have numbers of no source.

#include <algorithm>
#include <string>
#include <utility>

#include "cure/io/shape.hpp"

namespace cure::io::detail {

/// Whether a part of a model file has a number that is no source's.
inline bool has_assumption(Json const& part) {
  if (part.is_object() && part.contains("value") && part.contains("basis")) {
    auto const& basis = part["basis"];
    return basis == "estimated" || basis == "assumption" || basis == "from memory";
  }
  return part.is_structured() && std::any_of(part.begin(), part.end(), has_assumption);
}

/// The parts by which times are decided and that have such numbers, in words.
inline std::string assumed_parts(Json const& document) {
  static constexpr std::pair<char const*, char const*> parts[] = {
      {"diffusion", "how it sets in the cold"},
      {"heat_of_reaction", "heat of reaction"},
      {"glass_transition", "glass transition"},
      {"gel", "gelation"},
      {"viscosity", "viscosity"},
      {"inhibitor", "inhibitor"}};
  std::string words;
  for (auto const& [key, name] : parts) {
    if (!document.contains(key) || !has_assumption(document[key])) continue;
    words += (words.empty() ? "" : ", ") + std::string(name);
  }
  return words;
}

}  // namespace cure::io::detail
