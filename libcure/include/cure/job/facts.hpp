#pragma once
/// The facts of a job that a crew knows, as questions; what may be answered, and what looks like
/// another unit. Values are those of a case document: degrees Celsius, millimetres, minutes.

#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "cure/error.hpp"
#include "cure/job/places.hpp"
#include "cure/job/said.hpp"
#include "cure/process/usual.hpp"
#include "cure/range.hpp"

namespace cure::job {

/// Words for what a pipe is made of: the material's id, and a usual wall over the bore (common
/// practice, no source).
struct Pipe {
  char const *word, *material;
  double wall_share;
};
inline constexpr Pipe pipes[] = {{"pvc", "pvc", 0.05},
                                 {"clay", "vitrified-clay", 0.1},
                                 {"concrete", "concrete", 0.15},
                                 {"cast iron", "cast-iron", 0.06},
                                 {"ductile iron", "ductile-iron", 0.05},
                                 {"steel", "steel", 0.04},
                                 {"pe", "hdpe", 0.06},
                                 {"pp", "polypropylene", 0.05},
                                 {"fibre cement", "asbestos-cement", 0.09},
                                 {"brick", "brick", 0.4},
                                 {"glass fibre", "glass-polyester-laminate", 0.03}};

/// What fills a bladder, and its heat-transfer coefficient [W/(m2 K)] (common practice, no source).
struct Fill {
  char const* word;
  double h;
};
inline constexpr Fill fills[] = {{"air", 10.0}, {"water", 300.0}};

enum class Kind {
  choice,
  resin,
  temperature,
  length,
  depth,
  minutes,
  clock,
  packer,
  fill,
  hot_water
};
inline constexpr char const* kind_names[] = {"choice", "resin",    "temperature", "length",
                                             "depth",  "minutes",  "clock",       "packer",
                                             "fill",   "hot water"};

/// One thing to ask.
struct Fact {
  char const* key;  ///< in a job document; with dashes the option of the command
  char const* question;
  Kind kind;
  char const* help;
  Range usual = {};  ///< outside it a number without a unit is asked about
  Range limits = {};
  std::vector<std::string> choices = {};
  bool needed = false;
};

namespace detail {

template <class T, std::size_t n>
std::vector<std::string> words_of(T const (&table)[n], char const* T::*word) {
  std::vector<std::string> words;
  for (auto const& row : table) words.emplace_back(row.*word);
  return words;
}

constexpr Range from_to(double low, double high) { return {.low = low, .high = high}; }

/// Of the temperatures that sites have; one of process::usual_temperatures.
inline Range usual(std::string_view name) {
  for (auto const& t : process::usual_temperatures) {
    if (t.name == name) return from_to(t.low, t.high);
  }
  throw InputError("temperature", std::string(name), "ground, pipe, resin or air");
}

}  // namespace detail

inline std::vector<Fact> const& facts() {
  using detail::from_to;
  static std::vector<Fact> const table{
      {"like",
       "What place is it like",
       Kind::choice,
       "a place whose usual values stand in for what is not known",
       {},
       {},
       detail::words_of(places, &Place::name)},
      {"pipe",
       "What is the pipe made of",
       Kind::choice,
       "what the pipe is made of",
       {},
       {},
       detail::words_of(pipes, &Pipe::word)},
      {"bore", "Bore of the pipe", Kind::length, "inner diameter", from_to(50.0, 600.0),
       from_to(40.0, 2000.0)},
      {"depth", "Depth of the pipe", Kind::depth, "from the surface to the pipe",
       from_to(200.0, 6000.0), from_to(0.0, 30000.0)},
      {"wall", "Temperature of the pipe's wall, measured", Kind::temperature,
       "measured at the defect", detail::usual("pipe"), from_to(-10.0, 60.0)},
      {"water",
       "Groundwater at the wall",
       Kind::choice,
       "what is seen of it",
       {},
       {},
       {"dry", "damp", "seeping", "running"}},
      {"hot_water", "Hot water through it lately", Kind::hot_water,
       "temperature and how long ago it ended, as \"45 C 10 min\", or none"},
      {"thickness", "Thickness of the liner", Kind::length, "as it will lie in the pipe",
       from_to(1.5, 12.0), from_to(0.5, 40.0)},
      {"length", "Length of the liner", Kind::length, "along the pipe", from_to(200.0, 5000.0),
       from_to(50.0, 20000.0)},
      {"resin",
       "Resin and hardener",
       Kind::resin,
       "id of a resin model (libcure models), or a file",
       {},
       {},
       {},
       true},
      {"resin_temperature", "Temperature of the resin when mixed", Kind::temperature,
       "measured in the cans", detail::usual("resin"), from_to(-10.0, 60.0)},
      {"packer",
       "Temperature of the packer, or where it lay",
       Kind::packer,
       "measured, or one of shade, sun, van, heated",
       from_to(-5.0, 50.0),
       from_to(-20.0, 80.0),
       {"shade", "sun", "van", "heated"}},
      {"air", "Temperature of the air", Kind::temperature, "where the liner is wetted out",
       detail::usual("air"), from_to(-30.0, 55.0)},
      {"fill", "What fills the bladder, and its temperature", Kind::fill,
       "air or water, as \"air 10 C\" or \"water 35 C\"", from_to(-15.0, 70.0),
       from_to(-30.0, 95.0), detail::words_of(fills, &Fill::word)},
      {"in_place", "From mixing until the packer is inflated in place", Kind::minutes, "as planned",
       from_to(5.0, 120.0), from_to(1.0, 720.0)},
      {"mixed_at", "Mixed at, by the clock", Kind::clock,
       "time of day; the answers then are times of day"}};
  return table;
}

/// @throws InputError that lists the keys there are
inline Fact const& fact_named(std::string_view key) {
  std::string list;
  for (auto const& fact : facts()) {
    if (fact.key == key) return fact;
    list += (list.empty() ? "" : ", ") + std::string(fact.key);
  }
  throw InputError("fact", "\"" + std::string(key) + "\"", "one of " + list);
}

/// Nothing (not known), a number, a word, or two numbers: of hot water its temperature and how long
/// ago it ended, of a fill its temperature and heat-transfer coefficient.
using Value = std::variant<std::monostate, double, std::string, std::pair<double, double>>;

/// One answer that has been understood.
struct Said {
  Value value;
  std::string doubt = {};  ///< what it may mean, when it is odd and usual in another unit
};

}  // namespace cure::job
