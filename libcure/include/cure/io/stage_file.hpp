#pragma once
/// The stages of a case document.

#include <string>
#include <utility>

#include "cure/heat/temperature_cycle.hpp"
#include "cure/io/case_reading.hpp"

namespace cure::io {

namespace detail::stage {

using F = CaseFields;
using X = CaseReading;
using numerics::Schedule;

constexpr Field<X> duration(F::Set set) {
  return F::number("duration_min", limits::duration, unit::minutes, set);
}

inline Default resin_in_liner(X const& x) {
  return {x.c.resin_in_liner(), "the resin that the liner holds"};
}
/// A pouch laid flat, 20 mm thick, both faces free.
inline Default flat_pouch(X const& x) {
  return {2.0 * x.mixed_mass.mass / x.c.resin.density.reference / 0.02, "a flat pouch 20 mm thick"};
}

inline constexpr Field<X> mixed_mass_fields[] = {
    duration([](X& x, double v) { x.mixed_mass.duration = v; }),
    F::number("mass_kg", limits::mass, unit::kg, [](X& x, double v) { x.mixed_mass.mass = v; })
        .or_number(resin_in_liner, "the resin that the liner holds"),
    F::number("surface_area_m2", limits::surface_area, unit::m2,
              [](X& x, double v) { x.mixed_mass.surface_area = v; })
        .or_number(flat_pouch, "a flat pouch 20 mm thick"),
    F::coefficient(8.0, [](X& x, Schedule v) { x.mixed_mass.h = std::move(v); }),
    F::celsius("ambient_temperature_C", [](X& x, Schedule v) {
      x.mixed_mass.ambient = std::move(v);
    }).or_number(F::air, "as the air")};

inline constexpr Object<X> mixed_mass_table{
    mixed_mass_fields, "Mixed resin in its pouch or bucket, at one temperature."};

inline constexpr char const* open_air[] = {"natural", "wind"};
inline constexpr char const* closed_air[] = {"natural"};
inline constexpr char const* closed_air_words =
    "natural: free convection of closed air in a level cylinder (Evans & Stefany 1966, extended).";

inline void only_on_packer(Reader& r, X& x) {
  if (!x.wet_out.film || x.wet_out.on_packer) return;
  r.fail("h_W_m2K", "\"" + r.text("h_W_m2K") + "\"",
         "a number or a table, on a table: the correlations are those of a level cylinder");
}

/// Coefficients that are given usually have radiation in them; correlations never do.
inline void no_emissivity(Reader& r, X& x) {
  if (x.wet_out.film) {
    x.wet_out.emissivity = 0.9;
    x.by_default(r.path("emissivity"), "0.9 (wet resin, from memory)");
  } else if (r.has("surroundings_temperature_C")) {
    r.fail("surroundings_temperature_C", "given", "only together with emissivity");
  }
}

inline void as_ambient(Reader& r, X& x) {
  x.wet_out.surroundings = x.wet_out.ambient;
  if (x.wet_out.emissivity > 0.0) {
    x.by_default(r.path("surroundings_temperature_C"), "as the ambient air");
  }
}

inline constexpr char const* wet_out_rules = R"([
  {"if": {"properties": {"on": {"const": "table"}}, "required": ["on"]},
   "then": {"properties": {"h_W_m2K": {"not": {"type": "string"}}}}},
  {"if": {"required": ["surroundings_temperature_C"]},
   "then": {"anyOf": [{"required": ["emissivity"]},
                      {"properties": {"h_W_m2K": {"type": "string"}}, "required": ["h_W_m2K"]}]}}])";
inline constexpr char const* lies_on[] = {"packer", "table"};

inline constexpr Field<X> wet_out_fields[] = {
    duration([](X& x, double v) { x.wet_out.duration = v; }),
    F::coefficient(
        10.0, [](X& x, Schedule v) { x.wet_out.h = std::move(v); }, open_air,
        [](Reader&, X& x) {
          x.wet_out.film.emplace();
          x.wet_out.film->diameter = x.c.pipe.inner_diameter;
        })
        .means("natural: free convection around a level cylinder (Churchill & Chu 1975); wind: "
               "across it (Churchill & Bernstein 1977)."),
    F::over_time("wind_m_s", limits::wind, unit::m_s,
                 [](X& x, Schedule v) { x.wet_out.film->wind = std::move(v); })
        .means("Across the packer.")
        .only_with("h_W_m2K", "wind"),
    F::celsius("ambient_temperature_C", [](X& x, Schedule v) { x.wet_out.ambient = std::move(v); })
        .or_number(F::air, "as the air"),
    F::over_time("absorbed_sun_W_m2", limits::absorbed_sun, unit::flux,
                 [](X& x, Schedule v) { x.wet_out.absorbed_sun = std::move(v); })
        .or_number(0.0, "shade"),
    F::word("on", lies_on, [](X& x, std::size_t i) { x.wet_out.on_packer = i == 0; })
        .means("What the wet laminate lies on; a table is taken as insulating.")
        .or_else("packer", [](Reader& r, X& x) { x.by_default(r.path("on"), "packer"); }),
    F::check(only_on_packer),
    F::number("emissivity", limits::emissivity, unit::none,
              [](X& x, double v) { x.wet_out.emissivity = v; })
        .means("Of the wet face.")
        .or_else("0.9 where h is a correlation; 0 where it is given, since such values mostly have "
                 "radiation in them",
                 no_emissivity),
    F::celsius("surroundings_temperature_C",
               [](X& x, Schedule v) { x.wet_out.surroundings = std::move(v); })
        .means(
            "Radiating temperature of all that the face sees. Only where there is an emissivity.")
        .or_else("as the ambient air", as_ambient)};

inline constexpr Object<X> wet_out_table =
    Object<X>(wet_out_fields, "Wet laminate, one face to the air.").with_rules(wet_out_rules);

inline constexpr Field<X> leg_fields[] = {
    F::celsius("to_C", [](X& x, double v) { x.leg.target = v; }),
    F::number("rate_K_min", {.low = 0.0, .high = 100.0, .above = true}, unit::K_min,
              [](X& x, double v) { x.leg.rate = v / 60.0; }),
    F::number("hold_min", {.low = 0.0, .high = 6e7}, unit::minutes, [](X& x, double v) {
      x.leg.hold = v;
    }).means("Time at that temperature.")};

inline constexpr Object<X> leg_table{leg_fields, "To a temperature at a steady rate, then hold."};

inline constexpr Field<X> fill_cycle_fields[] = {
    F::celsius("start_C", [](X& x, double v) { x.cycle_start = v; })
        .or_number(F::air, "as the air"),
    F::objects(
        "legs", leg_table, [](Reader&, X& x) { x.legs.push_back(x.leg); }, "at least one leg")};

inline constexpr Object<X> fill_cycle_table{
    fill_cycle_fields,
    "Heating and cooling of the fill, hot water or hot air, in place of fill_temperature_C."};

inline constexpr char const* hold_ends[] = {"at_duration", "at_release", "at_recommended_release"};

inline constexpr Field<X> held_fields[] = {
    duration([](X& x, double v) { x.held.duration = v; }),
    F::object("fill_cycle", fill_cycle_table)
        .instead("fill_temperature_C")
        .optional()
        .and_then([](Reader&, X& x) {
          x.held.cycle = {x.cycle_start, x.legs};
          x.held.fill_temperature = heat::temperature_cycle(x.cycle_start, x.legs);
        }),
    F::celsius("fill_temperature_C",
               [](X& x, Schedule v) { x.held.fill_temperature = std::move(v); })
        .means("Of the medium in the bladder.")
        .unless_given("fill_cycle")
        .or_number(F::air, "as the air"),
    F::coefficient(
        10.0, [](X& x, Schedule v) { x.held.h = std::move(v); }, closed_air,
        [](Reader&, X& x) {
          x.held.film.emplace();
          x.held.film->law = heat::AirFilm::Law::closed_air;
          x.held.film->diameter = 2.0 * (x.c.bore_radius() - x.c.bladder.thickness);
        })
        .means(closed_air_words),
    F::number("fill_gauge_pressure_bar", {.low = 0.0, .high = 1e6}, unit::bar,
              [](X& x, double v) { x.held.film->pressure += v; })
        .or_number(1.0, "common practice, no source")
        .means("Of the air in the bladder above the atmosphere.")
        .only_with("h_W_m2K", "natural"),
    F::word("ends", hold_ends, [](X& x, std::size_t i) {
      x.held.until_release = i != 0;
    }).or_else("at_duration")};

inline constexpr Object<X> held_table{held_fields, "Pressed against the host pipe by the bladder."};

inline constexpr Field<X> after_release_fields[] = {
    duration([](X& x, double v) { x.after_release.duration = v; }),
    F::celsius("bore_temperature_C",
               [](X& x, Schedule v) { x.after_release.bore_temperature = std::move(v); })
        .or_number(F::ground, "as the ground"),
    F::coefficient(
        5.0, [](X& x, Schedule v) { x.after_release.h = std::move(v); }, closed_air,
        [](Reader&, X& x) {
          x.after_release.film.emplace();
          x.after_release.film->law = heat::AirFilm::Law::closed_air;
          x.after_release.film->diameter = 2.0 * x.c.bore_radius();
        })
        .means(closed_air_words)};

inline constexpr Object<X> after_release_table{
    after_release_fields, "Bladder down, for good or for a while; the liner faces the bore."};

inline constexpr KindOf<X> kinds[] = {{"mixed_mass", &mixed_mass_table},
                                      {"wet_out", &wet_out_table},
                                      {"held", &held_table},
                                      {"after_release", &after_release_table}};

inline constexpr Object<X> table{"kind", kinds, [](X& x, std::size_t i) { x.stage_kind = i; }};

/// The stage that has been read joins those before it. @throws InputError
inline void add(Reader& r, X& x) {
  auto& list = x.c.stages;
  if (!list.empty() && !process::may_follow(process::kind(list.back()),
                                            static_cast<process::StageKind>(x.stage_kind))) {
    r.fail("kind", std::string("\"") + kinds[x.stage_kind].word + "\"", process::stage_order);
  }
  switch (x.stage_kind) {
    case 0: return list.emplace_back(x.mixed_mass), void();
    case 1: return list.emplace_back(x.wet_out), void();
    case 2: return list.emplace_back(x.held), void();
    default: list.emplace_back(x.after_release);
  }
}

}  // namespace detail::stage

/// "stages", read once all else but the criteria is known.
inline constexpr Field<CaseReading> stages_field =
    CaseFields::objects("stages", detail::stage::table, detail::stage::add, "at least one stage")
        .elements(1, process::limits::most_stages)
        .means(
            "In the order mixed_mass, wet_out, then held and after_release as they come, each as "
            "often as the job has it: a bladder that goes down and up again is held, "
            "after_release, "
            "held.");

}  // namespace cure::io
