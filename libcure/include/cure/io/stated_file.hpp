#pragma once
/// Stated ranges as JSON, as the part "uncertain" of a chart document has them: seed, constants,
/// and inputs, each with name, title, the inputs it moves, distribution, and a half width or a
/// standard deviation [K, or of a factor].

#include <cmath>
#include <iterator>
#include <string>
#include <utility>

#include "cure/compiled.hpp"
#include "cure/io/reader.hpp"
#include "cure/uncertain/stated.hpp"

namespace cure::io {

namespace detail {

inline char const* spread_key(uncertain::Distribution d) {
  return d == uncertain::Distribution::uniform ? "half_width" : "sd";
}

inline uncertain::StatedInput stated_input(Reader& r) {
  uncertain::StatedInput i;
  i.name = r.text("name", "a text");
  i.title = r.has("title") ? r.text("title") : i.name;
  for (auto const& move : r.texts("moves")) {
    try {
      i.moves.push_back(&ensemble::find_input(move));
    } catch (InputError const& e) {
      r.fail("moves", "\"" + move + "\"", e.allowed());
    }
  }
  auto const told = r.text("distribution", "normal, uniform or lognormal");
  std::size_t at = 0;
  while (at < std::size(uncertain::distribution_names) && told != uncertain::distribution_names[at])
    ++at;
  if (at == std::size(uncertain::distribution_names)) {
    r.fail("distribution", "\"" + told + "\"", "one of normal, uniform, lognormal");
  }
  i.distribution = static_cast<uncertain::Distribution>(at);
  // How far it may be is asked by validate, which knows what is moved.
  i.spread = r.number(spread_key(i.distribution), {.low = 0.0, .above = true});
  r.finish();
  return i;
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
  if (r.has("seed")) {
    double const seed = r.number("seed", {.low = 0.0, .high = 4294967295.0});
    if (seed != std::floor(seed)) r.fail("seed", shown(seed), "a whole number");
    s.seed = static_cast<std::uint64_t>(seed);
  }
  if (r.has("constants")) s.constants = r.flag("constants");
  if (r.has("samples")) r.skip("samples");  // how many is the caller's
  if (r.has("inputs")) {
    for (auto& entry : r.objects("inputs")) s.inputs.push_back(detail::stated_input(entry));
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
