#pragma once
/// What was meant by a word that is not one of those there are: for messages only, nothing is taken
/// in its place.

#include <algorithm>
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "cure/arithmetic.hpp"

namespace cure {

/// Number of single-character edits between two words (Levenshtein).
inline std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      std::size_t const change = diagonal + (a[i - 1] == b[j - 1] ? 0u : 1u);
      diagonal = row[j];
      row[j] = std::min({change, row[j] + 1, row[j - 1] + 1});
    }
  }
  return row[b.size()];
}

/// Latin capitals made small.
inline std::string lower(std::string_view text) {
  std::string t(text);
  for (char& c : t) {
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  }
  return t;
}

namespace detail {

inline std::vector<std::string> parts_of(std::string_view word) {
  std::vector<std::string> parts(1);
  for (char const c : lower(word)) {
    if (c == '-' || c == '_' || c == ' ') {
      parts.emplace_back();
    } else {
      parts.back() += c;
    }
  }
  std::erase(parts, std::string());
  return parts;
}

/// Whether each part of a word begins a part of an id: "clay" of "vitrified-clay".
inline bool has_parts(std::string_view id, std::vector<std::string> const& wanted) {
  auto const parts = parts_of(id);
  return !wanted.empty() && std::all_of(wanted.begin(), wanted.end(), [&](auto const& w) {
    return std::any_of(parts.begin(), parts.end(), [&](auto const& p) { return p.starts_with(w); });
  });
}

}  // namespace detail

/// The nearest of some words; empty where none is near.
template <class Words>
std::string nearest(std::string_view word, Words const& words) {
  auto const given = lower(word);
  std::size_t best = std::max<std::size_t>(3, word.size() / 3);
  std::string found;
  for (auto const& candidate : words) {
    auto const d = edit_distance(given, lower(candidate));
    if (d < best) {
      best = d;
      found = candidate;
    }
  }
  return found;
}

/// The same of ids, where a part may stand for the whole: the shortest that has what was given.
template <class Words>
std::string nearest_id(std::string_view word, Words const& ids) {
  if (auto const found = nearest(word, ids); !found.empty()) return found;
  auto const wanted = detail::parts_of(word);
  std::string found;
  for (auto const& candidate : ids) {
    std::string_view const id(candidate);
    if (detail::has_parts(id, wanted) && (found.empty() || id.size() < found.size())) found = id;
  }
  return found;
}

/// "; did you mean ...?", or nothing.
inline std::string did_you_mean(std::string const& word) {
  return word.empty() ? std::string() : "; did you mean \"" + word + "\"?";
}

}  // namespace cure
