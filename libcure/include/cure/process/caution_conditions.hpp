#pragma once
/// Cautions about the surroundings of the wall: ground, groundwater, fill, and correlations.

#include <cmath>
#include <cstdio>
#include <numbers>
#include <string>
#include <utility>
#include <variant>

#include "cure/process/usual.hpp"
#include "cure/process/verdict.hpp"
#include "cure/units.hpp"

namespace cure::process::detail {

inline std::string digits(char const* format, double x) {
  char text[48];
  std::snprintf(text, sizeof text, format, x);
  return text;
}

/// What the ground alone, by conduction, takes from a wall an hour after a step (H.S. Carslaw, J.C.
/// Jaeger, "Conduction of Heat in Solids", 2nd ed., 1959, sec. 2.4) [W/(m2 K)].
inline double ground_after_an_hour(heat::Material const& ground) {
  return ground.conductivity / std::sqrt(std::numbers::pi * ground.diffusivity() * 3600.0);
}

inline void caution_ground(Case const& c, Verdict& v) {
  auto const add = [&](char const* code, std::string text) {
    v.cautions.push_back({code, std::move(text)});
  };
  if (v.coldest_ground && *v.coldest_ground < zero_celsius) {
    auto const cold = digits("%.1f °C", celsius_from_kelvin(*v.coldest_ground));
    if (c.ground.material.varying) {
      add("ground_frozen", "The ground is frozen, down to " + cold +
                               ": ice around the pipe takes much heat before it lets the wall "
                               "warm, and melts where the wall does. Warm the pipe first.");
    } else {
      add("ground_below_freezing",
          "The ground is below freezing, down to " + cold +
              ", and the ice in it is not counted: set ground.freezing to true for wet ground.");
    }
  }
  if (c.ground.water && soil_thickness(c) == 0.0) {
    double const conducted = ground_after_an_hour(c.ground.material);
    if (c.ground.water->h < conducted) {
      add("groundwater_film_weak",
          "A groundwater film of " + digits("%.0f", c.ground.water->h) +
              " W/(m2 K) takes less heat than the ground itself would by conduction (about " +
              digits("%.0f", conducted) +
              " after an hour): the wall would be colder than shown. Leave the groundwater out, or "
              "give the film of moving water.");
    }
  }
  if (auto const& climate = c.ground.climate) {
    double const cover = climate->depth - c.outer_radius();
    double const share = end_of_ground_error(c, cover);
    if (!c.ground.water && share > 0.01) {
      add("shallow_pipe", "Only " + digits("%.2f m", cover) +
                              " of ground cover the pipe: its surface, and with it the weather, "
                              "may change the wall's warming by " +
                              digits("%.0f %%", 100.0 * share) +
                              " within these stages. Measure the pipe's own temperature.");
    }
    if (climate->worst_month.value_or(0.0) > 3.0) {
      add("months_not_a_wave",
          "The monthly temperatures are up to " + digits("%.1f K", *climate->worst_month) +
              " from the yearly wave through them: the ground temperature is as uncertain near the "
              "surface. Measure it.");
    }
  }
}

/// Asks about temperatures that no site has, above all where °F may have been written.
inline void caution_unusual(Case const& c, Verdict& v) {
  double const ground = c.ground.temperature.max(), pipe = c.initial.pipe;
  for (auto const& usual : usual_temperatures) {
    std::string const name = usual.name;
    bool const below = name == "ground" || name == "pipe";
    if (name == "pipe" && pipe == c.ground.temperature.at(0.0)) continue;
    double const T = celsius_from_kelvin(name == "ground"  ? ground
                                         : name == "pipe"  ? pipe
                                         : name == "resin" ? c.initial.resin
                                                           : c.initial.air);
    if (T <= usual.high && (T >= usual.low || below)) continue;
    double const meant = (T - 32.0) / 1.8;
    auto const number = digits("%.4g", T);
    bool const ask = meant >= usual.low && meant <= usual.high;
    v.cautions.push_back(
        {"unusual_temperature",
         "The " + name + " at " + number + " °C is far from what a site has: " +
             (ask ? "was " + number + " °F meant, that is " + digits("%.1f °C", meant) + "?"
                  : "measure it again.")});
  }
}

inline void caution_surfaces(Case const& c, Verdict& v) {
  for (auto const& stage : c.stages) {
    auto const* held = std::get_if<Held>(&stage);
    double const limit = c.bladder.material.temperature_limit;
    if (held == nullptr || !(held->fill_temperature.max() > limit)) continue;
    v.cautions.push_back({"fill_above_bladder_limit",
                          "The fill reaches " +
                              digits("%.0f °C", celsius_from_kelvin(held->fill_temperature.max())) +
                              ", above the bladder's limit of " +
                              digits("%.0f °C", celsius_from_kelvin(limit)) +
                              ": it may harden, soften or burst."});
  }
  for (auto const& [stage, film] : v.films) {
    if (film.in_range) continue;
    v.cautions.push_back(
        {"correlation_out_of_range",
         "The heat-transfer coefficient in the stage " + stage + ", " + digits("%.1f", film.low) +
             " to " + digits("%.1f", film.high) +
             " W/(m2 K), lies beyond the range of its correlation's source: give a "
             "measured one."});
  }
}

}  // namespace cure::process::detail
