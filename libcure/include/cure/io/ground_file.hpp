#pragma once
/// "ground" of a case document: its material, its undisturbed temperature (given, by time, or by
/// climate, depth and day), groundwater and frost.

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/case_reading.hpp"
#include "cure/process/conditions.hpp"

namespace cure::io {

namespace detail::ground {

using F = CaseFields;
using X = CaseReading;
using numerics::Schedule;

inline void twelve_months(Reader& r, X& x) {
  if (x.months.size() != 12) {
    r.fail("monthly_mean_C", std::to_string(x.months.size()) + " values",
           "12, January first, of the ground's surface");
  }
  if (heat::looks_unfilled(x.months)) {
    r.fail("monthly_mean_C", "0, four months or more", heat::filled_months);
  }
}

/// The wave of twelve monthly means, or the one that was given. @throws InputError
inline void make_wave(Reader& r, X& x) {
  auto& p = x.climate;
  bool const monthly = r.has("monthly_mean_C");
  double const diffusivity = x.c.ground.material.diffusivity();
  try {
    if (!monthly) {
      p.climate = heat::make_ground_climate(p.climate.mean, p.climate.amplitude,
                                            p.climate.day_of_minimum, diffusivity);
      return;
    }
    std::array<double, 12> kelvin{};
    std::transform(x.months.begin(), x.months.end(), kelvin.begin(), kelvin_from_celsius);
    auto const fit = heat::fit_monthly(kelvin, diffusivity);
    p.climate = fit.climate;
    p.worst_month = fit.worst_month;
  } catch (InputError const& e) {
    r.fail(monthly ? "monthly_mean_C" : "annual_mean_C", e.field() + " " + e.value(), e.allowed());
  }
}

inline void deep_enough(Reader& r, X& x) {
  double const outer = x.c.outer_radius();
  if (x.climate.depth >= outer) return;
  r.fail("depth_m", shown(x.climate.depth),
         "at least the pipe's outer radius, " + shown(outer) + "; it is that of the axis");
}

inline constexpr Range day_of_year{.low = 0.0, .high = 366.0};

inline constexpr Field<X> climate_fields[] = {
    F::numbers("monthly_mean_C", {.low = -50.0, .high = 50.0},
               [](X& x, std::vector<double> list) { x.months = std::move(list); })
        .means("Of the ground's surface, January first.")
        .elements(12, 12)
        .and_then(twelve_months)
        .optional(),
    F::number("annual_mean_C", {.low = 233.15, .high = 313.15}, unit::celsius,
              [](X& x, double v) { x.climate.climate.mean = v; })
        .means("Of the ground's surface over the year.")
        .unless_given("monthly_mean_C"),
    F::number("amplitude_K", {.low = 0.0, .high = 50.0}, unit::kelvin,
              [](X& x, double v) { x.climate.climate.amplitude = v; })
        .means("Of the surface: half of warmest less coldest.")
        .unless_given("monthly_mean_C"),
    F::number("day_of_minimum", day_of_year, unit::none,
              [](X& x, double v) { x.climate.climate.day_of_minimum = v; })
        .means("Coldest day of the surface; 1 is 1 January.")
        .unless_given("monthly_mean_C"),
    F::check(make_wave),
    F::number("depth_m", {.low = 0.0, .high = 100.0}, unit::m,
              [](X& x, double v) { x.climate.depth = v; })
        .means("Of the pipe's axis, at least the pipe's outer radius.")
        .and_then(deep_enough),
    F::number("day", day_of_year, unit::none, [](X& x, double v) {
      x.climate.day = v;
    }).means("Of the year, 1 is 1 January.")};

inline constexpr Object<X> climate_table{
    climate_fields,
    "Undisturbed temperature at the depth of the pipe's axis on a day of the year, from a yearly "
    "wave at the surface (Kusuda & Achenbach 1965) or from twelve monthly means of the surface. "
    "Instead of temperature_C."};

inline void take_climate(Reader&, X& x) {
  x.c.ground.climate = x.climate;
  x.c.ground.temperature = x.climate.climate.temperature(x.climate.depth, x.climate.day);
}

/// Where the soil may end. @param by how far outside the pipe at least [m]
constexpr Field<X> radius(Range (*limits)(X const&)) {
  return F::number("radius_m", {.low = 0.0, .high = 50.0, .above = true}, unit::m,
                   [](X& x, double v) { x.c.ground.radius = v; })
      .within(limits);
}

inline Range around_pipe(X const& x, double by) {
  return {.low = x.c.outer_radius() + by, .high = 50.0};
}

inline void water_as_ground(Reader& r, X& x) {
  x.c.ground.water->temperature = x.c.ground.temperature;
  x.by_default(r.path("temperature_C"), "as the ground");
}

inline void water_at_pipe(Reader& r, X& x) {
  x.c.ground.radius = x.c.outer_radius();
  x.by_default(r.path("radius_m"), shown(x.c.ground.radius, 3) + " (at the pipe, no soil between)");
}

inline constexpr Field<X> groundwater_fields[] = {
    F::number("h_W_m2K", limits::groundwater_h, unit::h,
              [](X& x, double v) {
                x.c.ground.water = process::Groundwater{v, {}};
              }),
    F::celsius("temperature_C",
               [](X& x, Schedule v) { x.c.ground.water->temperature = std::move(v); })
        .or_else("as the ground", water_as_ground),
    radius([](X const& x) { return around_pipe(x, 0.01); })
        .means("At least 0.01 m outside the pipe.")
        .or_else("at the pipe, no soil between", water_at_pipe)};

inline constexpr Object<X> groundwater_table{
    groundwater_fields,
    "Water moving past: a film at the pipe's outer face, or at a radius with saturated soil inside "
    "it, in place of undisturbed ground."};

inline void freeze(Reader& r, X& x) {
  if (!x.freezes) return;
  auto& material = x.c.ground.material;
  if (!material.freezing) {
    r.fail("freezing", "true", "only with a ground whose file gives \"freezing\", its water");
  }
  material = heat::with_freezing(std::move(material));
}

inline constexpr Field<X> fields[] = {
    F::ground_model("material", [](Reader&, X& x) { x.c.ground.material = std::move(x.material); }),
    F::flag("freezing", [](X& x, bool yes) { x.freezes = yes; })
        .means("Whether the ground's water freezes and thaws; its file must say how much there is.")
        .or_else("false")
        .and_then(freeze),
    F::object("climate", climate_table).instead("temperature_C").optional().and_then(take_climate),
    F::celsius_from_mixing("temperature_C",
                           [](X& x, Schedule v) { x.c.ground.temperature = std::move(v); })
        .means("Undisturbed, at the far radius.")
        .if_missing("a number or a table, or climate in its place")
        .unless_given("climate"),
    radius([](X const& x) { return around_pipe(x, 0.05); })
        .means("Far radius, at least 0.05 m outside the pipe.")
        .or_else("four diffusion lengths")
        .unless_given("groundwater", "; groundwater.radius_m is its place"),
    F::object("groundwater", groundwater_table).optional()};

}  // namespace detail::ground

/// Read once pipe and liner are known.
inline constexpr Object<CaseReading> ground_table{detail::ground::fields,
                                                  "The ground around the pipe."};

/// The far radius where none was given. Asked for once the stages are known.
inline void finish_ground(Reader&, CaseReading& x) {
  auto& c = x.c;
  if (c.ground.radius > 0.0) return;
  c.ground.radius = process::far_radius(c);
  c.ground.radius_by_time = true;
  x.by_default("ground.radius_m", shown(c.ground.radius, 3) + " (four diffusion lengths)");
}

}  // namespace cure::io
