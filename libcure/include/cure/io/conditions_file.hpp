#pragma once
/// The resolved conditions of a case's ground and surfaces, for the verdict and for checking a
/// case: the undisturbed temperature and where it is from, the far radius and its error, frost,
/// groundwater, and the correlations used.

#include <string>
#include <variant>

#include "cure/io/reader.hpp"
#include "cure/page/case_words.hpp"
#include "cure/process/conditions.hpp"
#include "cure/units.hpp"

namespace cure::io {

namespace detail {

inline Json climate_json(process::ClimatePoint const& p) {
  auto const& c = p.climate;
  return {{"annual_mean_C", celsius_from_kelvin(c.mean)},
          {"amplitude_K", c.amplitude},
          {"day_of_minimum", c.day_of_minimum},
          {"depth_m", p.depth},
          {"day", p.day},
          {"amplitude_at_depth_K", c.amplitude_at(p.depth)},
          {"lag_days", c.lag(p.depth)},
          {"worst_month_K", p.worst_month ? Json(*p.worst_month) : Json(nullptr)}};
}

inline Json film_json(std::string const& stage, char const* surface, heat::AirFilm const& film) {
  bool const open = film.law == heat::AirFilm::Law::open_air;
  bool const still = film.wind.max() == 0.0;
  return {{"stage", stage},
          {"surface", surface},
          {"law", !open   ? "free convection in a closed level cylinder"
                  : still ? "free convection around a level cylinder"
                          : "wind across a level cylinder, at least free convection around it"},
          {"source", page::source(film)},
          {"diameter_mm", 1e3 * film.diameter},
          {"air_pressure_bar", 1e-5 * film.pressure},
          {"wind_m_s", film.wind.max()}};
}

}  // namespace detail

inline Json ground_json(process::Case const& c) {
  auto const& g = c.ground;
  Json water = nullptr, ice = nullptr;
  if (g.water) {
    water = {{"h_W_m2K", g.water->h},
             {"temperature_C", celsius_from_kelvin(g.water->temperature.at(0.0))},
             {"radius_m", g.radius}};
  }
  if (g.material.varying && g.material.freezing) {
    ice = {{"water_kg_m3", g.material.freezing->water},
           {"start_C", celsius_from_kelvin(g.material.freezing->start)},
           {"range_K", g.material.freezing->range}};
  }
  bool const far = !g.water;
  return {{"material", g.material.id},
          {"temperature_C", celsius_from_kelvin(g.temperature.at(0.0))},
          {"climate", g.climate ? detail::climate_json(*g.climate) : Json(nullptr)},
          {"far_radius_m", far ? Json(g.radius) : Json(nullptr)},
          {"far_radius_error",
           far ? Json(process::end_of_ground_error(c, process::soil_thickness(c))) : Json(nullptr)},
          {"groundwater", water},
          {"freezing", ice}};
}

/// The surfaces whose heat-transfer coefficient a correlation gives, in order of the stages.
inline Json films_json(process::Case const& c) {
  Json films = Json::array();
  for (auto const& stage : c.stages) {
    if (auto const* wet = std::get_if<process::WetOut>(&stage); wet && wet->film) {
      films.push_back(detail::film_json("wet_out", "liner outer face", *wet->film));
    } else if (auto const* held = std::get_if<process::Held>(&stage); held && held->film) {
      films.push_back(detail::film_json("held", "bladder inner face", *held->film));
    } else if (auto const* bore = std::get_if<process::AfterRelease>(&stage); bore && bore->film) {
      films.push_back(detail::film_json("after_release", "liner inner face", *bore->film));
    }
  }
  return films;
}

}  // namespace cure::io
