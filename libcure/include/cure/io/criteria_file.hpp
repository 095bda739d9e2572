#pragma once
/// The parts of a case document that say when release and service are allowed, and how finely to
/// compute.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>

#include "cure/io/value_reader.hpp"
#include "cure/process/case.hpp"

namespace cure::io {

namespace detail {

inline void read_bears(Reader& release, ValueReader& values, process::Case& c) {
  auto bears = release.object_or_empty("bears");
  bool const wet = c.ground.water.has_value();
  c.release.bears.water_head = values.number_or(
      bears, "water_head_m", limits::water_head, wet ? 1.0 : 0.0,
      wet ? "there is groundwater, its head is an assumption" : "no groundwater in the case");
  c.release.bears.pull = values.number_or(bears, "pull_N", limits::pull, 500.0,
                                          "the bladder drawn out by hand, an assumption");
  c.release.bears.factor =
      values.number_or(bears, "factor", limits::safety_factor, 2.0, "as in ASTM F1216, X1.1");
  bears.finish();
}

}  // namespace detail

/// "release" and "service"; what is left out comes from the resin model. @throws InputError
inline void read_criteria(Reader& d, ValueReader& values, process::Case& c) {
  auto const project = "an assumption of this project";
  auto const from_model = "from the resin model, an assumption of this project";
  auto const& kelvin = limits::Tg_margin;
  auto release = d.object_or_empty("release");
  // A conversion that is stated is meant to count.
  bool const stated = release.has("alpha_min");
  auto const by = release.has("by") ? release.choice("by", {"mechanics", "conversion"})
                  : stated          ? "conversion"
                                    : "mechanics";
  if (by == "conversion") {
    c.release.by = process::ReleaseBy::conversion;
    c.release.alpha_min = values.number_or(release, "alpha_min", limits::alpha_min,
                                           c.resin.release_alpha_min, from_model);
    // The older name of the key.
    auto const key = release.has("Tg_above_wall_K") ? "Tg_above_wall_K" : "Tg_margin_K";
    c.release.Tg_margin =
        values.number_or(release, key, kelvin, c.resin.release_Tg_margin, from_model);
  } else {
    c.release.load_time =
        3600.0 * values.number_or(release, "load_hours", {.low = 0.05, .high = 1e4}, 2.0,
                                  "that the load stays before further cure counts, an assumption");
    detail::read_bears(release, values, c);
  }
  c.release.safety_factor =
      values.number_or(release, "safety_factor", limits::safety_factor, 1.25, project);
  release.finish();
  auto service = d.object_or_empty("service");
  c.service.temperature = kelvin_from_celsius(values.number_or(
      service, "temperature_C", celsius_range, 25.0, "domestic drain, an assumption"));
  c.service.Tg_margin = values.number_or(service, "Tg_margin_K", kelvin, 10.0, project);
  service.finish();
}

/// By process::Accuracy.
inline constexpr char const* accuracy_words[] = {"quick", "standard", "fine"};

/// "accuracy" sets mesh and step tolerances together, "numerics" any of them by itself.
/// @throws InputError
inline void read_discretisation(Reader& d, process::Discretisation& n) {
  if (d.has("accuracy")) {
    auto const& words = accuracy_words;
    auto const word = d.choice("accuracy", {std::begin(words), std::end(words)});
    auto const at = std::find(std::begin(words), std::end(words), word) - std::begin(words);
    n = process::discretisation(static_cast<process::Accuracy>(at));
  }
  auto r = d.object_or_empty("numerics");
  auto cells = r.object_or_empty("cells");
  auto const take = [&](char const* key, std::size_t& into) {
    if (!cells.has(key)) return;
    double const count = cells.number(key, {.low = 2.0, .high = 2000.0});
    if (count != std::floor(count)) cells.fail(key, shown(count), "a whole number, 2 to 2000");
    into = static_cast<std::size_t>(count);
  };
  take("bladder", n.bladder);
  take("liner", n.liner);
  take("pipe", n.pipe);
  take("ground", n.ground);
  cells.finish();
  if (r.has("temperature_tolerance_K")) {
    n.tolerance.temperature = r.number("temperature_tolerance_K", {.low = 1e-9, .high = 1.0});
  }
  if (r.has("alpha_tolerance")) {
    n.tolerance.alpha = r.number("alpha_tolerance", {.low = 1e-12, .high = 1e-2});
  }
  r.finish();
}

}  // namespace cure::io
