#pragma once
/// "ground" of a case document: its material, its undisturbed temperature (given, by time, or by
/// climate, depth and day), groundwater and frost.

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "cure/io/reader.hpp"
#include "cure/io/value_reader.hpp"
#include "cure/process/conditions.hpp"

namespace cure::io {

namespace detail {

/// "climate": a yearly wave, or twelve monthly means. @throws InputError
inline process::ClimatePoint read_climate(Reader& ground, heat::Material const& material,
                                          double pipe_radius) {
  auto r = ground.object("climate");
  process::ClimatePoint p;
  double const diffusivity = material.diffusivity();
  auto const possible = [&](char const* key, auto const& make) {
    try {
      return make();
    } catch (InputError const& e) {
      r.fail(key, e.field() + " " + e.value(), e.allowed());
    }
  };
  if (r.has("monthly_mean_C")) {
    auto const months = r.numbers("monthly_mean_C", {.low = -50.0, .high = 50.0});
    if (months.size() != 12) {
      r.fail("monthly_mean_C", std::to_string(months.size()) + " values",
             "12, January first, of the ground's surface");
    }
    for (auto const* key : {"annual_mean_C", "amplitude_K", "day_of_minimum"}) {
      if (r.has(key)) r.fail(key, "given", "not together with monthly_mean_C");
    }
    std::array<double, 12> kelvin{};
    std::transform(months.begin(), months.end(), kelvin.begin(), kelvin_from_celsius);
    auto const fit =
        possible("monthly_mean_C", [&] { return heat::fit_monthly(kelvin, diffusivity); });
    p.climate = fit.climate;
    p.worst_month = fit.worst_month;
  } else {
    double const mean = r.number("annual_mean_C", {.low = -40.0, .high = 40.0});
    double const amplitude = r.number("amplitude_K", {.low = 0.0, .high = 50.0});
    double const coldest = r.number("day_of_minimum", {.low = 0.0, .high = 366.0});
    p.climate = possible("annual_mean_C", [&] {
      return heat::make_ground_climate(kelvin_from_celsius(mean), amplitude, coldest, diffusivity);
    });
  }
  p.depth = r.number("depth_m", {.low = 0.0, .high = 100.0});
  if (!(p.depth >= pipe_radius)) {
    r.fail("depth_m", shown(p.depth),
           "at least the pipe's outer radius, " + shown(pipe_radius) + "; it is that of the axis");
  }
  p.day = r.number("day", {.low = 0.0, .high = 366.0});
  r.finish();
  return p;
}

}  // namespace detail

/// Reads the ground once pipe and liner are known.
/// @param material the ground's, as in its file
/// @throws InputError
inline void read_ground(Reader& r, ValueReader& values, process::Case& c, heat::Material material) {
  auto& ground = c.ground;
  if (r.has("freezing")) {
    auto const& freezes = r.at("freezing", "true or false");
    if (!freezes.is_boolean()) r.fail("freezing", Reader::shown_value(freezes), "true or false");
    if (freezes.get<bool>()) {
      if (!material.freezing) {
        r.fail("freezing", "true", "only with a ground whose file gives \"freezing\", its water");
      }
      material = heat::with_freezing(std::move(material));
    }
  }
  ground.material = std::move(material);
  if (r.has("climate")) {
    if (r.has("temperature_C")) r.fail("climate", "given", "not together with temperature_C");
    ground.climate = detail::read_climate(r, ground.material, c.outer_radius());
    ground.temperature =
        ground.climate->climate.temperature(ground.climate->depth, ground.climate->day);
  } else {
    r.at("temperature_C", "a number or a table, or climate in its place");
    ground.temperature = values.schedule(r, "temperature_C", celsius_range, 1.0, zero_celsius);
  }
  double const outer = c.outer_radius();
  if (r.has("groundwater")) {
    if (r.has("radius_m")) {
      r.fail("radius_m", "given",
             "not together with groundwater; groundwater.radius_m is its place");
    }
    auto w = r.object("groundwater");
    process::Groundwater water;
    water.h = w.number("h_W_m2K", limits::groundwater_h);
    if (w.has("temperature_C")) {
      water.temperature =
          ValueReader::schedule(w, "temperature_C", celsius_range, 1.0, zero_celsius);
    } else {
      water.temperature = ground.temperature;
      values.by_default(w.path("temperature_C"), "as the ground");
    }
    ground.radius = outer;
    if (w.has("radius_m")) {
      ground.radius = w.number("radius_m", {.low = outer + 0.01, .high = 50.0});
    } else {
      values.by_default(w.path("radius_m"), shown(outer, 3) + " (at the pipe, no soil between)");
    }
    w.finish();
    ground.water = std::move(water);
  } else if (r.has("radius_m")) {
    ground.radius = r.number("radius_m", {.low = outer + 0.05, .high = 50.0});
  }
  r.finish();
}

/// A far radius of four diffusion lengths: a surface step decays to erfc(2) = 0.5 % there even in
/// the plane (H.S. Carslaw, J.C. Jaeger, "Conduction of Heat in Solids", 2nd ed., 1959, sec. 2.4).
/// Asked for once the stages are known.
inline void finish_ground(ValueReader& values, process::Case& c) {
  if (c.ground.radius > 0.0) return;
  double const depth =
      4.0 * std::sqrt(process::largest_diffusivity(c.ground.material) * process::time_in_ground(c));
  c.ground.radius = c.outer_radius() + std::max(0.1, depth);
  values.by_default("ground.radius_m", shown(c.ground.radius, 3) + " (four diffusion lengths)");
}

}  // namespace cure::io
