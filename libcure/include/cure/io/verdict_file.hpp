#pragma once
/// Verdicts as documents, "libcure/verdict/1": minutes and degrees Celsius, null for never.

#include <cmath>
#include <optional>
#include <string>
#include <utility>

#include "cure/compiled.hpp"
#include "cure/io/conditions_file.hpp"
#include "cure/io/criteria_file.hpp"
#include "cure/io/reader.hpp"
#include "cure/process/cautions.hpp"
#include "cure/units.hpp"

namespace cure::io {

namespace detail {

inline Json minutes_or_null(std::optional<double> seconds) {
  return seconds ? Json(*seconds / 60.0) : Json(nullptr);
}

inline Json point_json(process::Point const& p) {
  Json j{{"layer", p.layer},
         {"position", p.position},
         {"radius_mm", p.radius > 0.0 ? Json(1e3 * p.radius) : Json(nullptr)},
         {"stage", p.stage},
         {"time_min", p.time / 60.0},
         {"temperature_C", celsius_from_kelvin(p.temperature)}};
  if (p.layer == "liner" || p.layer == "mixed mass") j["alpha"] = p.alpha;
  if (p.angle) {
    j["angle_deg"] = *p.angle * 360.0 / process::full_turn;
    j["clock"] = p.clock;
  }
  if (p.distance) j["position_mm"] = 1e3 * *p.distance;
  return j;
}

/// By the keys of the times; null where there is no time, or its error cannot be told.
inline Json numerical_error_json(std::optional<process::NumericalError> const& e) {
  if (!e) return nullptr;
  Json j{{"peak_temperature_K", e->peak_temperature}, {"marginal", Json::array()}};
  std::pair<char const*, char const*> const keys[] = {{"working", "working_time_min"},
                                                      {"gel_first", "gel_time_first_min"},
                                                      {"gel_last", "gel_time_last_min"},
                                                      {"release", "criterion_met_min"},
                                                      {"service", "service_time_min"}};
  for (auto const& [name, key] : keys) {
    auto const& time = e->time.at(name);
    j[key] = minutes_or_null(time.error);
    if (time.marginal) j["marginal"].push_back(key);
  }
  return j;
}

inline Json finite_or_null(double value) {
  return std::isfinite(value) ? Json(value) : Json(nullptr);
}

/// Each requirement of the release with what it asks for; null where it asks for nothing, or for
/// what cannot be had.
inline Json needs_json(process::ReleaseNeeds const& needs) {
  Json list = Json::array();
  for (auto const& need : needs.needs) {
    list.push_back(
        {{"what", need.what},
         {"alpha", need.alpha > 0.0 ? Json(need.alpha) : Json(nullptr)},
         {"Tg_margin_K", need.Tg_margin > -1e3 ? finite_or_null(need.Tg_margin) : Json(nullptr)},
         {"modulus_MPa", need.modulus > 0.0 ? Json(1e-6 * need.modulus) : Json(nullptr)}});
  }
  return list;
}

inline char const* name_of(process::ReleaseState state) {
  switch (state) {
    case process::ReleaseState::reached: return "reached";
    case process::ReleaseState::not_in_hold: return "not_in_hold";
    case process::ReleaseState::vitrified: return "vitrified";
    case process::ReleaseState::gelled_before_held: return "gelled_before_held";
    case process::ReleaseState::outside_model: return "outside_model";
    case process::ReleaseState::no_held_stage: break;
  }
  return "no_held_stage";
}

}  // namespace detail

CURE_FUNCTION Json verdict_json(process::Case const& c, process::Verdict const& v);
#if CURE_DEFINES(ANSWERS)
CURE_FUNCTION Json verdict_json(process::Case const& c, process::Verdict const& v) {
  using detail::minutes_or_null;
  auto const needs = process::release_needs(c);
  Json limiting = Json::object(), peaks = Json::object(), cautions = Json::array();
  for (auto const& [name, point] : v.limiting) limiting[name] = detail::point_json(point);
  for (auto const& [name, point] : v.layer_peak) peaks[name] = detail::point_json(point);
  for (auto const& caution : v.cautions) {
    cautions.push_back({{"code", caution.code}, {"text", caution.text}});
  }
  auto ground = ground_json(c);
  ground["coldest_C"] = v.coldest_ground ? Json(celsius_from_kelvin(*v.coldest_ground)) : Json();
  auto films = films_json(c);
  for (auto& film : films) {
    auto const used = v.films.find(film["stage"].get<std::string>());
    bool const known = used != v.films.end();
    film["h_low_W_m2K"] = known ? Json(used->second.low) : Json();
    film["h_high_W_m2K"] = known ? Json(used->second.high) : Json();
    film["in_range"] = known ? Json(used->second.in_range) : Json();
  }
  Json leftover = nullptr;
  if (v.leftover) {
    leftover = {{"gel_time_min", minutes_or_null(v.leftover->gel_time)},
                {"peak_temperature_C", celsius_from_kelvin(v.leftover->peak_temperature)},
                {"peak_time_min", v.leftover->peak_time / 60.0}};
  }
  return {
      {"format", "libcure/verdict/1"},
      {"title", c.title},
      {"resin", {{"id", c.resin.id}, {"title", c.resin.title}, {"estimated", c.resin.estimated}}},
      {"working_time_min", minutes_or_null(v.working_time)},
      {"gel_time_first_min", minutes_or_null(v.gel_time_first)},
      {"gel_time_last_min", minutes_or_null(v.gel_time_last)},
      {"criterion_met_min", minutes_or_null(v.release_time)},
      {"release_state", detail::name_of(v.release_state)},
      {"service_time_min", minutes_or_null(v.service_time)},
      {"held_from_min", minutes_or_null(v.held_from)},
      {"working_margin_min", minutes_or_null(v.working_margin)},
      {"curing_temperature_C",
       v.curing_temperature ? Json(celsius_from_kelvin(*v.curing_temperature)) : Json(nullptr)},
      {"peak_temperature_C", celsius_from_kelvin(v.peak.temperature)},
      {"peak_time_min", v.peak.time / 60.0},
      {"peak", detail::point_json(v.peak)},
      {"layer_peak", peaks},
      {"leftover_mass", leftover},
      {"limiting", limiting},
      {"ground", ground},
      {"films", films},
      {"numerical_error", detail::numerical_error_json(v.numerical_error)},
      {"criterion",
       {{"by", c.release.by == process::ReleaseBy::mechanics ? "mechanics" : "conversion"},
        {"alpha_min", needs.alpha_min},
        {"Tg_margin_K", detail::finite_or_null(needs.Tg_margin)},
        {"needs", detail::needs_json(needs)},
        {"safety_factor", c.release.safety_factor},
        {"service_temperature_C", celsius_from_kelvin(c.service.temperature)},
        {"service_Tg_margin_K", c.service.Tg_margin}}},
      {"solver",
       {{"accuracy", accuracy_words[static_cast<std::size_t>(c.discretisation.accuracy)]},
        {"steps", v.steps},
        {"rejections", v.rejections},
        {"energy_residual", v.energy_residual}}},
      {"defaults", c.defaults},
      {"cautions", cautions},
  };
}
#endif

}  // namespace cure::io
