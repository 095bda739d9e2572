#pragma once
/// What may differ from case to case in an ensemble: offsets and factors on what the case says, by
/// name, each with the function that applies it.

#include <cmath>
#include <span>
#include <string>
#include <string_view>
#include <variant>

#include "cure/error.hpp"
#include "cure/kinetics/rate_scale.hpp"
#include "cure/process/case.hpp"

namespace cure::ensemble {

using process::Case;

struct Input {
  std::string_view name;  ///< ends in _offset_K or _factor
  std::string_view about;
  void (*apply)(Case& c, double value);

  [[nodiscard]] bool is_factor() const { return name.ends_with("_factor"); }
};

namespace detail {

/// A coefficient that is given, or one by a correlation.
template <class Stage>
void scale_h(Stage& s, double x) {
  if (s.film) {
    s.film->factor *= x;
  } else {
    s.h = s.h.scaled(x, 0.0);
  }
}

}  // namespace detail

inline std::span<Input const> inputs() {
  using process::each, process::Held, process::MixedMass, process::WetOut;
  static constexpr Input table[] = {
      {"ground.temperature_offset_K", "undisturbed ground, and groundwater",
       [](Case& c, double x) {
         c.ground.temperature = c.ground.temperature.scaled(1.0, x);
         if (auto& water = c.ground.water) water->temperature = water->temperature.scaled(1.0, x);
       }},
      {"initial_temperature.resin_offset_K", "resin components when mixed",
       [](Case& c, double x) { c.initial.resin += x; }},
      {"initial_temperature.fibre_offset_K", "dry fibre",
       [](Case& c, double x) { c.initial.fibre += x; }},
      {"initial_temperature.packer_offset_K", "packer and bladder",
       [](Case& c, double x) { c.initial.packer += x; }},
      {"initial_temperature.pipe_offset_K", "pipe wall before the liner comes",
       [](Case& c, double x) { c.initial.pipe += x; }},
      {"ambient_offset_K", "air about the mixed mass and the wet-out",
       [](Case& c, double x) {
         each<MixedMass>(c, [x](auto& s) { s.ambient = s.ambient.scaled(1.0, x); });
         each<WetOut>(c, [x](auto& s) { s.ambient = s.ambient.scaled(1.0, x); });
       }},
      {"fill_temperature_offset_K", "medium in the bladder",
       [](Case& c, double x) {
         each<Held>(c, [x](auto& s) { s.fill_temperature = s.fill_temperature.scaled(1.0, x); });
       }},
      {"liner.thickness_factor", "thickness of the liner",
       [](Case& c, double x) {
         c.liner.thickness *= x;
         if (c.section) c.section->liner_thickness.scale(x);
       }},
      {"liner.fibre_volume_fraction_factor", "share of fibre in the liner",
       [](Case& c, double x) { c.liner.fibre_volume_fraction *= x; }},
      {"pipe.wall_factor", "wall of the host pipe",
       [](Case& c, double x) {
         c.ground.radius += (x - 1.0) * c.pipe.wall;
         c.pipe.wall *= x;
       }},
      {"pipe.conductivity_factor", "conductivity of the host pipe",
       [](Case& c, double x) { c.pipe.material.conductivity *= x; }},
      {"ground.conductivity_factor", "conductivity of the ground",
       [](Case& c, double x) { c.ground.material.conductivity *= x; }},
      {"contact_factor", "all contact resistances",
       [](Case& c, double x) {
         c.contact.bladder_liner *= x;
         c.contact.liner_pipe *= x;
         c.contact.pipe_ground *= x;
       }},
      {"fill_h_factor", "heat transfer at the bladder's inner face",
       [](Case& c, double x) { each<Held>(c, [x](auto& s) { detail::scale_h(s, x); }); }},
      {"ambient_h_factor", "heat transfer to the air before the liner is held",
       [](Case& c, double x) {
         each<MixedMass>(c, [x](auto& s) { s.h = s.h.scaled(x, 0.0); });
         each<WetOut>(c, [x](auto& s) { detail::scale_h(s, x); });
       }},
      {"mixed_mass.duration_factor", "time in the pouch or bucket",
       [](Case& c, double x) { each<MixedMass>(c, [x](auto& s) { s.duration *= x; }); }},
      {"wet_out.duration_factor", "time from wet-out to being held",
       [](Case& c, double x) { each<WetOut>(c, [x](auto& s) { s.duration *= x; }); }},
      {"resin.rate_factor", "speed of cure",
       [](Case& c, double x) { c.resin.rate = kinetics::faster(c.resin.rate, x); }},
      {"resin.heat_of_reaction_factor", "heat of reaction",
       [](Case& c, double x) { c.resin.heat_of_reaction *= x; }},
  };
  return table;
}

/// @throws InputError that lists the names there are
inline Input const& find_input(std::string const& name) {
  std::string list;
  for (auto const& input : inputs()) {
    if (input.name == name) return input;
    list += (list.empty() ? "" : ", ") + std::string(input.name);
  }
  throw InputError(name, "unknown input", "one of " + list);
}

/// @throws InputError when the value itself, or what it makes of the case, cannot be
inline void apply(Input const& input, double value, Case& c) {
  bool const factor = input.is_factor();
  if (!std::isfinite(value) || (factor && !(value > 0.0)) || std::abs(value) > 1e3) {
    throw InputError(std::string(input.name), std::to_string(value),
                     factor ? "above 0, at most 1000" : "-1000 to 1000 K");
  }
  input.apply(c, value);
}

}  // namespace cure::ensemble
