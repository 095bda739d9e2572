#pragma once
/// Refuses a case that cannot be, whoever made it: a document, a program, or an ensemble's offsets.
/// Everything that runs a case asks this first.

#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <variant>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/error.hpp"
#include "cure/process/case.hpp"
#include "cure/process/limits.hpp"

namespace cure::process {

namespace detail {

/// @param unit with a space before it; empty for a bare number
inline void check(std::string_view field, double x, Range const& range,
                  std::string_view unit = {}) {
  // A limit in another unit may be off by a last digit.
  auto const beyond = [](double end) { return 1e-9 * std::abs(end); };
  Range const wide{range.low - beyond(range.low), range.high + beyond(range.high), range.above};
  if (wide.holds(x)) return;
  throw InputError(std::string(field), shown(x) + std::string(unit),
                   range.text() + std::string(unit));
}

inline void check(std::string_view field, Schedule const& s, Range const& range,
                  std::string_view unit) {
  for (double const x : s.values()) check(field, x, range, unit);
}

inline void check_temperature(std::string_view field, Schedule const& T) {
  check(field, T, limits::temperature, " K");
}

inline void check_material(std::string_view name, heat::Material const& m) {
  for (auto const& [field, x, unit] :
       {std::tuple{".conductivity", m.conductivity, " W/(m K)"},
        std::tuple{".density", m.density, " kg/m3"},
        std::tuple{".specific_heat", m.specific_heat, " J/(kg K)"}}) {
    if (!limits::positive.holds(x)) check(std::string(name) + field, x, limits::positive, unit);
  }
}

inline void check_resin(kinetics::Resin<double> const& r) {
  using limits::positive;
  check("resin.heat_of_reaction", r.heat_of_reaction, positive, " J/kg");
  check("resin.density", r.density.reference, positive, " kg/m3");
  check("resin.specific_heat", r.specific_heat.reference, positive, " J/(kg K)");
  check("resin.conductivity", r.conductivity.reference, positive, " W/(m K)");
  check("resin.initial_degree_of_cure", r.initial_degree_of_cure, limits::initial_alpha);
  check("resin.alpha_gel", r.alpha_gel, limits::alpha_gel);
  auto const& Tg = r.glass_transition;
  check("resin.glass_transition.Tg0", Tg.Tg0, positive, " K");
  check("resin.glass_transition.Tg_inf", Tg.Tg_inf, {.low = Tg.Tg0}, " K");
  check("resin.glass_transition.lambda", Tg.lambda, limits::Tg_lambda);
  if (r.viscosity) check("resin.viscosity.eta0", r.viscosity->eta0, positive, " Pa s");
  if (auto const eta = r.working_limit.viscosity) {
    check("resin.working_limit.viscosity", *eta, positive, " Pa s");
  }
  if (auto const part = r.working_limit.fraction_of_gel) {
    check("resin.working_limit.fraction_of_gel", *part, limits::alpha_gel);
  }
}

/// Room for liner and bladder where the liner is so thick [m].
inline void check_room(Case const& c, double thickness) {
  double const radius = 0.5 * c.pipe.inner_diameter;
  if (!(thickness < limits::liner_share * radius)) {
    throw InputError(
        "liner.thickness", shown(thickness) + " m",
        "less than 40 % of the pipe's inner radius, " + shown(limits::liner_share * radius) + " m");
  }
  double const room = limits::bladder_share * (radius - thickness);
  if (!(c.bladder.thickness < room)) {
    throw InputError("bladder.thickness", shown(c.bladder.thickness) + " m",
                     "less than 90 % of the liner's inner radius, " + shown(room) + " m");
  }
}

inline void check_wall(Case const& c) {
  check("pipe.inner_diameter", c.pipe.inner_diameter, limits::pipe_diameter, " m");
  check("pipe.wall", c.pipe.wall, limits::pipe_wall, " m");
  check("liner.thickness", c.liner.thickness, limits::thickness, " m");
  check("liner.length", c.liner.length, limits::liner_length, " m");
  check("liner.fibre_volume_fraction", c.liner.fibre_volume_fraction,
        limits::fibre_volume_fraction);
  check("bladder.thickness", c.bladder.thickness, limits::thickness, " m");
  check_room(c, c.liner.thickness);
  check_material("pipe.material", c.pipe.material);
  check_material("liner.fibre", c.liner.fibre);
  check_material("bladder.material", c.bladder.material);
  check_material("ground.material", c.ground.material);
  for (auto const& [name, R] : {std::pair{"contact.bladder_liner", c.contact.bladder_liner},
                                std::pair{"contact.liner_pipe", c.contact.liner_pipe},
                                std::pair{"contact.pipe_ground", c.contact.pipe_ground}}) {
    check(name, R, limits::contact_resistance, " m2 K/W");
  }
}

inline void check_surroundings(Case const& c) {
  for (auto const& [name, T] :
       {std::pair{"initial.resin", c.initial.resin}, std::pair{"initial.fibre", c.initial.fibre},
        std::pair{"initial.packer", c.initial.packer}, std::pair{"initial.pipe", c.initial.pipe},
        std::pair{"initial.air", c.initial.air}}) {
    check(name, T, limits::temperature, " K");
  }
  check_temperature("ground.temperature", c.ground.temperature);
  check("ground.radius", c.ground.radius, {.low = c.outer_radius()}, " m");
  if (auto const& water = c.ground.water) {
    check("ground.water.h", water->h, limits::groundwater_h, " W/(m2 K)");
    check_temperature("ground.water.temperature", water->temperature);
  }
}

inline void check_film(Schedule const& h, std::optional<heat::AirFilm> const& film) {
  if (!film) return check("h", h, limits::h, " W/(m2 K)");
  check("film.diameter", film->diameter, limits::positive, " m");
  check("film.pressure", film->pressure, limits::positive, " Pa");
  check("film.factor", film->factor, limits::positive);
  check("film.wind", film->wind, limits::wind, " m/s");
}

inline void check_stage(MixedMass const& s) {
  check("mass", s.mass, limits::mass, " kg");
  check("surface_area", s.surface_area, limits::surface_area, " m2");
  check("h", s.h, limits::h, " W/(m2 K)");
  check_temperature("ambient", s.ambient);
}
inline void check_stage(WetOut const& s) {
  check_film(s.h, s.film);
  check_temperature("ambient", s.ambient);
  check("absorbed_sun", s.absorbed_sun, limits::absorbed_sun, " W/m2");
  check("emissivity", s.emissivity, limits::emissivity);
  if (s.emissivity > 0.0) check_temperature("surroundings", s.surroundings);
}
inline void check_stage(Held const& s) {
  check_film(s.h, s.film);
  check_temperature("fill_temperature", s.fill_temperature);
}
inline void check_stage(AfterRelease const& s) {
  check_film(s.h, s.film);
  check_temperature("bore_temperature", s.bore_temperature);
}

inline void check_stages(std::vector<Stage> const& stages) {
  if (stages.empty() || stages.size() > limits::most_stages) {
    throw InputError("stages", std::to_string(stages.size()),
                     "1 to " + std::to_string(limits::most_stages) + " stages");
  }
  for (std::size_t i = 0; i < stages.size(); ++i) {
    auto const place = [&] { return "stages[" + std::to_string(i) + "]"; };
    if (i > 0 && !may_follow(kind(stages[i - 1]), kind(stages[i]))) {
      throw InputError(place(), name(kind(stages[i])), stage_order);
    }
    try {
      check("duration", duration(stages[i]), limits::duration, " s");
      std::visit([](auto const& s) { check_stage(s); }, stages[i]);
    } catch (InputError const& e) {
      throw InputError(place() + "." + e.field(), e.value(), e.allowed());
    }
  }
}

inline void check_section(Case const& c, PipeSection const& s) {
  if (c.stages.back().index() < 2) {
    throw InputError("section", "no stage in the pipe",
                     "a case with a held or after_release stage");
  }
  if (s.columns < 2) throw InputError("section.columns", std::to_string(s.columns), "at least 2");
  for (double const t : s.liner_thickness.values()) {
    check("section.liner_thickness", t, limits::thickness, " m");
    check_room(c, t);
  }
  for (double const x : s.ground_offset.values()) {
    check("section.ground_offset", x, limits::ground_offset, " K");
  }
  if (auto const& water = s.water) {
    check("section.water.depth", water->depth,
          {.low = 0.0, .high = c.pipe.inner_diameter, .above = true}, " m");
    check("section.water.temperature", water->temperature, limits::water_temperature, " K");
    check("section.water.h", water->h, limits::h_of_water, " W/(m2 K)");
  }
  if (!s.around()) {
    check("section.length", s.length, {.low = 0.0, .high = c.liner.length, .above = true}, " m");
    check("section.bare_pipe", s.bare_pipe, {.low = 0.0}, " m");
    for (auto const& part : {s.bare_gap, s.open_to_soil}) {
      if (part && !(part->from >= 0.0 && part->to > part->from && part->to <= s.length)) {
        throw InputError("section", shown(part->from) + " to " + shown(part->to) + " m",
                         "a stretch that rises, from 0 to the section's length");
      }
    }
  }
  if (too_steep(s, 0.5 * c.pipe.inner_diameter)) {
    throw InputError("section.liner_thickness", "a slope above 45 degrees",
                     "thickness that changes gently");
  }
}

inline void check_discretisation(Discretisation const& d) {
  for (auto const& [name, n] :
       {std::pair{"bladder", d.bladder}, std::pair{"liner", d.liner}, std::pair{"pipe", d.pipe},
        std::pair{"ground", d.ground}, std::pair{"columns", d.columns}}) {
    if (n < 2)
      throw InputError("discretisation." + std::string(name), std::to_string(n),
                       "at least 2 cells");
  }
  check("discretisation.tolerance.temperature", d.tolerance.temperature, limits::positive, " K");
  check("discretisation.tolerance.alpha", d.tolerance.alpha, limits::positive);
}

}  // namespace detail

/// @throws InputError that names the first field that cannot be, its value and what is allowed
CURE_FUNCTION void validate(Case const& c);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION void validate(Case const& c) {
  detail::check_stages(c.stages);
  detail::check_resin(c.resin);
  detail::check_wall(c);
  detail::check_surroundings(c);
  detail::check("release.alpha_min", c.release.alpha_min, limits::alpha_min);
  detail::check("release.Tg_margin", c.release.Tg_margin, limits::Tg_margin, " K");
  detail::check("release.load_time", c.release.load_time, limits::load_time, " s");
  detail::check("release.bears.water_head", c.release.bears.water_head, limits::water_head, " m");
  detail::check("release.bears.pull", c.release.bears.pull, limits::pull, " N");
  detail::check("release.bears.factor", c.release.bears.factor, limits::safety_factor);
  detail::check("release.safety_factor", c.release.safety_factor, limits::safety_factor);
  detail::check("service.temperature", c.service.temperature, limits::temperature, " K");
  detail::check("service.Tg_margin", c.service.Tg_margin, limits::Tg_margin, " K");
  if (c.section) detail::check_section(c, *c.section);
  detail::check_discretisation(c.discretisation);
}
#endif

}  // namespace cure::process
