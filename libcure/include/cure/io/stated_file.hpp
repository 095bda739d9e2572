#pragma once
/// Stated ranges as JSON, as the part "uncertain" of a chart document has them: seed, constants,
/// and inputs, each with name, title, the inputs it moves, distribution, and a half width or a
/// standard deviation [K, or of a factor].

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/io/reader.hpp"
#include "cure/uncertain/stated.hpp"

namespace cure::io {

inline constexpr std::size_t most_stated_inputs = 40, most_moves = 20;

namespace detail {

inline char const* spread_key(uncertain::Distribution d) {
  return d == uncertain::Distribution::uniform ? "half_width" : "sd";
}

inline uncertain::StatedInput stated_input(Reader& r) {
  using uncertain::Distribution;
  uncertain::StatedInput i;
  i.name = r.text("name");
  if (i.name.empty()) r.fail("name", "\"\"", "a text");
  i.title = r.has("title") ? r.text("title") : i.name;
  auto const moves = r.texts("moves");
  if (moves.empty() || moves.size() > most_moves) {
    r.fail("moves", std::to_string(moves.size()) + " names", "1 to 20 names of inputs");
  }
  std::string list;
  bool alike = true;
  for (auto const& move : moves) {
    try {
      i.moves.push_back(&ensemble::find_input(move));
    } catch (InputError const& e) {
      r.fail("moves", "\"" + move + "\"", e.allowed());
    }
    list += (list.empty() ? "" : ", ") + move;
    alike = alike && i.moves.back()->is_factor() == i.is_factor();
  }
  if (!alike) r.fail("moves", list, "offsets only, or factors only");
  // The last is for factors alone: an offset's logarithm is nothing.
  std::span const names(uncertain::distribution_names);
  i.distribution = static_cast<Distribution>(r.choice(
      "distribution", Words(names.first(i.is_factor() ? names.size() : names.size() - 1))));
  i.spread = r.number(spread_key(i.distribution), uncertain::spread_range(i));
  r.finish();
  return i;
}

/// Names and titles are what people tell inputs apart by.
inline void refuse_the_same(Reader const& r, uncertain::StatedInput const& i,
                            std::vector<uncertain::StatedInput> const& others) {
  for (auto const& other : others) {
    if (other.name == i.name) r.fail("name", "\"" + i.name + "\"", "a name of its own");
    if (other.title == i.title) r.fail("title", "\"" + i.title + "\"", "a title of its own");
  }
}

}  // namespace detail

/// @param source whose ranges these are, as part of a sentence. @throws InputError
CURE_FUNCTION uncertain::Stated read_stated(Json const& document, std::string source,
                                            std::string const& file = {});
#if CURE_DEFINES(ANSWERS)
CURE_FUNCTION uncertain::Stated read_stated(Json const& document, std::string source,
                                            std::string const& file) {
  uncertain::Stated s;
  s.source = std::move(source);
  Reader r(document, "uncertain", file);
  double const seed = r.number("seed", {.low = 0.0, .high = 4294967295.0});
  if (seed != std::floor(seed)) r.fail("seed", shown(seed), "a whole number, 0 to 4294967295");
  s.seed = static_cast<std::uint64_t>(seed);
  if (r.has("constants")) s.constants = r.flag("constants");
  r.skip("samples");  // how many is the caller's
  r.skip("samples_at_least");
  if (r.has("inputs")) {
    auto entries = r.objects("inputs");
    if (entries.size() > most_stated_inputs) {
      r.fail("inputs", std::to_string(entries.size()) + " elements", "0 to 40 objects");
    }
    for (auto& entry : entries) {
      auto input = detail::stated_input(entry);
      detail::refuse_the_same(entry, input, s.inputs);
      s.inputs.push_back(std::move(input));
    }
  }
  if (s.inputs.empty() && !s.constants) {
    r.fail("inputs", "missing", "at least one input, or constants true");
  }
  r.finish();
  uncertain::validate(s);
  return s;
}
#endif

inline Json stated_json(uncertain::Stated const& s) {
  Json inputs = Json::array();
  for (auto const& i : s.inputs) {
    Json moves = Json::array();
    for (auto const* move : i.moves) moves.push_back(move->name);
    inputs.push_back(
        {{"name", i.name},
         {"title", i.title},
         {"moves", moves},
         {"distribution", uncertain::distribution_names[static_cast<int>(i.distribution)]},
         {detail::spread_key(i.distribution), i.spread}});
  }
  return {{"seed", s.seed}, {"constants", s.constants}, {"inputs", inputs}};
}

}  // namespace cure::io
