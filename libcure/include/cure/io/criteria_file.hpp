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

/// "release" and "service"; what is left out comes from the resin model. @throws InputError
inline void read_criteria(Reader& d, ValueReader& values, process::Case& c) {
  auto const project = "an assumption of this project";
  auto const from_model = "from the resin model, an assumption of this project";
  auto const& kelvin = limits::Tg_margin;
  auto release = d.object_or_empty("release");
  c.release.alpha_min = values.number_or(release, "alpha_min", limits::alpha_min,
                                         c.resin.release_alpha_min, from_model);
  c.release.Tg_above_wall = values.number_or(release, "Tg_above_wall_K", kelvin,
                                             c.resin.release_Tg_above_wall, from_model);
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
