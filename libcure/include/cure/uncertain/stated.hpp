#pragma once
/// What is not known exactly in a job, as stated ranges: offsets and factors on the inputs of an
/// ensemble. One default set serves predictions, advice and followed jobs.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/ensemble/inputs.hpp"
#include "cure/error.hpp"
#include "cure/range.hpp"
#include "cure/uncertain/normal.hpp"

namespace cure::uncertain {

enum class Distribution { normal, uniform, lognormal };

/// One thing that is not known exactly, and the inputs that it moves together.
struct StatedInput {
  std::string name, title;
  std::vector<ensemble::Input const*> moves;  ///< all offsets [K], or all factors [-]
  Distribution distribution = Distribution::normal;
  /// Standard deviation, half width if uniform [K or -]; of the logarithm if lognormal.
  double spread = 0.0;

  [[nodiscard]] bool is_factor() const { return moves.front()->is_factor(); }

  /// The offset or factor at a point of the unit interval; its median is no change.
  [[nodiscard]] double value(double u) const {
    double const change = distribution == Distribution::uniform ? spread * (2.0 * u - 1.0)
                                                                : spread * normal_quantile(u);
    if (distribution == Distribution::lognormal) return std::exp(change);
    return is_factor() ? 1.0 + change : change;
  }
};

/// Largest spread of an offset [K], and of a factor by distribution: a normal factor must not come
/// near zero, a lognormal one cannot.
inline constexpr double most_offset_spread = 30.0;
constexpr double most_factor_spread(Distribution d) {
  return d == Distribution::normal ? 0.2 : d == Distribution::uniform ? 0.9 : 1.5;
}
inline constexpr char const* distribution_names[] = {"normal", "uniform", "lognormal"};

struct Stated {
  std::uint64_t seed = 20260101;
  bool constants = true;  ///< the resin's constants vary by its covariance
  std::vector<StatedInput> inputs;
  std::string source;  ///< whose ranges these are, as part of a sentence
};

/// How far an input may be, by what it moves.
inline Range spread_range(StatedInput const& i) {
  return {.low = 0.0,
          .high = i.is_factor() ? most_factor_spread(i.distribution) : most_offset_spread,
          .above = true};
}

/// @param reserved names that no input may have. @throws InputError for names that are not its own,
/// inputs moved that do not go together, or a spread that cannot be
CURE_FUNCTION void validate(Stated const& stated, std::set<std::string> reserved = {});
#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION void validate(Stated const& stated, std::set<std::string> reserved) {
  for (auto const& i : stated.inputs) {
    auto const field = "uncertain." + i.name;
    if (!reserved.insert(i.name).second) {
      throw InputError(field, "given twice or reserved", "a name of its own");
    }
    if (i.moves.empty()) throw InputError(field + ".moves", "nothing", "at least one input");
    std::string list;
    bool alike = true;
    for (auto const* move : i.moves) {
      list += (list.empty() ? "" : ", ") + std::string(move->name);
      alike = alike && move->is_factor() == i.is_factor();
    }
    if (!alike) throw InputError(field + ".moves", list, "offsets only, or factors only");
    if (i.distribution == Distribution::lognormal && !i.is_factor()) {
      throw InputError(field + ".distribution", "\"lognormal\"", "one of normal, uniform");
    }
    auto const spread = spread_range(i);
    if (!spread.holds(i.spread)) {
      auto const key = i.distribution == Distribution::uniform ? ".half_width" : ".sd";
      throw InputError(field + key, shown(i.spread), spread.text());
    }
  }
}
#endif

/// The default set. Assumptions of this project, no source.
CURE_FUNCTION Stated usual();
#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION Stated usual() {
  Stated s;
  s.source = "the usual ranges";
  auto const add = [&s](char const* name, char const* title, Distribution distribution,
                        double spread, std::vector<char const*> const& moves) {
    StatedInput input{name, title, {}, distribution, spread};
    for (auto const* move : moves) input.moves.push_back(&ensemble::find_input(move));
    s.inputs.push_back(std::move(input));
  };
  add("ground", "Ground temperature", Distribution::normal, 1.0,
      {"ground.temperature_offset_K", "initial_temperature.pipe_offset_K"});
  add("resin_temperature", "Resin temperature at mixing", Distribution::uniform, 2.0,
      {"initial_temperature.resin_offset_K"});
  add("air", "Air, packer and fill temperature", Distribution::uniform, 3.0,
      {"ambient_offset_K", "initial_temperature.packer_offset_K",
       "initial_temperature.fibre_offset_K", "fill_temperature_offset_K"});
  add("thickness", "Liner thickness", Distribution::normal, 0.08, {"liner.thickness_factor"});
  add("contact", "Contact resistance", Distribution::lognormal, 0.7, {"contact_factor"});
  add("soil", "Conductivity of the ground", Distribution::normal, 0.2,
      {"ground.conductivity_factor"});
  return s;
}
#endif

}  // namespace cure::uncertain
