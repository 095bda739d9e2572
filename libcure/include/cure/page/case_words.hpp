#pragma once
/// A case in words: wall, section, ground, groundwater, frost, correlations and what the release
/// needs. What the document gives itself is not repeated but for the wall.

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>
#include <variant>
#include <vector>

#include "cure/page/numbers.hpp"
#include "cure/page/page.hpp"
#include "cure/process/conditions.hpp"
#include "cure/process/release_needs.hpp"

namespace cure::page {

/// Where a correlation is from.
inline char const* source(heat::AirFilm const& film) {
  if (film.law != heat::AirFilm::Law::open_air) {
    return "Evans & Stefany 1966, from memory, extended to air";
  }
  return film.wind.max() == 0.0 ? "Churchill & Chu 1975"
                                : "Churchill & Bernstein 1977; Churchill & Chu 1975";
}

namespace detail {

inline std::string joined(std::vector<std::string> const& parts, char const* between) {
  std::string all;
  for (auto const& part : parts) all += (all.empty() ? "" : between) + part;
  return all;
}

inline std::string wall(process::Case const& c) {
  auto const& T = c.ground.temperature;
  double const at_first = celsius_from_kelvin(T.at(0.0));
  // A table starts as its author wrote it.
  auto const ground = T.constant() ? rounded(at_first) : number(at_first);
  return "liner " + number(1e3 * c.liner.thickness) + " mm, pipe " + c.pipe.material.id + " " +
         number(1e3 * c.pipe.inner_diameter) + " mm bore, " + number(1e3 * c.pipe.wall) +
         " mm wall, " + c.ground.material.id + " at " + ground +
         (T.constant() ? " °C" : " °C at first");
}

inline std::string climate(double temperature, process::ClimatePoint const& p) {
  auto const& c = p.climate;
  auto const mean = celsius_from_kelvin(c.mean);
  auto const wave = p.worst_month
                        ? fixed(mean, 1) + " ± " + fixed(c.amplitude, 1) +
                              " °C through the months (" + fixed(*p.worst_month, 1) + " K off)"
                        : number(mean) + " ± " + number(c.amplitude, 3) + " °C";
  return fixed(celsius_from_kelvin(temperature), 1) + " °C at " + number(p.depth) + " m on day " +
         number(p.day) + "; the surface's year is " + wave + ", here " + fixed(c.lag(p.depth), 0) +
         " days later and ± " + fixed(c.amplitude_at(p.depth), 1) + " K";
}

inline std::string frost(heat::Freezing const& ice, process::Verdict const* v) {
  double const start = celsius_from_kelvin(ice.start);
  auto const words = number(ice.water) + " kg/m³ of water freeze between " + number(start) +
                     " and " + number(start - ice.range) + " °C";
  if (v == nullptr || !v->coldest_ground) return words;
  return words + "; coldest ground " + fixed(celsius_from_kelvin(*v->coldest_ground), 1) + " °C";
}

inline Fact film_fact(process::StageKind stage, char const* surface, heat::AirFilm const& film,
                      process::Verdict const* v) {
  std::string law = "free convection of closed air";
  if (film.law == heat::AirFilm::Law::open_air) {
    double const wind = film.wind.max();
    law = wind > 0.0 ? "wind of " + number(wind) + " m/s" : "free convection in open air";
  }
  std::string used, when = process::name(stage);
  if (v != nullptr) {
    if (auto const found = v->films.find(when); found != v->films.end()) {
      auto const low = fixed(found->second.low, 1), high = fixed(found->second.high, 1);
      used = " " + (low == high ? low : low + " to " + high) + " W/(m²K),";
    }
  }
  std::replace(when.begin(), when.end(), '_', ' ');
  return {"Air",
          std::string(surface) + ", " + when + ":" + used + " " + law + " (" + source(film) + ")"};
}

}  // namespace detail

/// What differs round the pipe or along it.
inline std::string describe(process::PipeSection const& s, process::Case const& c) {
  std::vector<std::string> parts;
  if (!s.liner_thickness.empty()) {
    parts.push_back("liner " + span(s.liner_thickness.values(), 1e3, "mm"));
  }
  if (s.around()) {
    if (s.water) {
      parts.push_back("water " + number(1e3 * s.water->depth) + " mm deep at the invert, " +
                      number(celsius_from_kelvin(s.water->temperature)) + " °C");
    }
    if (!s.ground_offset.empty()) {
      parts.push_back("ground warmer by " + span(s.ground_offset.values(), 1.0, "K"));
    }
  } else {
    if (s.length != c.liner.length) parts.push_back(number(1e3 * s.length) + " mm of liner");
    if (s.bare_pipe > 0.0) {
      parts.push_back(number(1e3 * s.bare_pipe) + " mm of bare pipe before it");
    }
    auto const stretch = [&](char const* words, std::optional<process::Stretch> const& part) {
      if (!part) return;
      parts.push_back(std::string(words) + " from " + number(1e3 * part->from) + " to " +
                      number(1e3 * part->to) + " mm");
    };
    stretch("no liner", s.bare_gap);
    stretch("no pipe wall", s.open_to_soil);
  }
  std::string const kind = s.around() ? "around the pipe" : "along the pipe";
  return parts.empty() ? kind + ", nothing differs" : kind + ": " + detail::joined(parts, ", ");
}

/// The resolved conditions of ground and surfaces. @param v of its prediction, for what only that
/// knows; or none
inline std::vector<Fact> conditions(process::Case const& c, process::Verdict const* v = nullptr) {
  auto const& g = c.ground;
  double const temperature = g.temperature.at(0.0);
  std::vector<Fact> facts;
  if (g.climate) facts.push_back({"Ground", detail::climate(temperature, *g.climate)});
  if (g.water) {
    facts.push_back({"Groundwater", fixed(celsius_from_kelvin(g.water->temperature.at(0.0)), 1) +
                                        " °C, moving past " + fixed(1e3 * g.radius, 0) +
                                        " mm from the axis with a film of " + number(g.water->h) +
                                        " W/(m²K)"});
  }
  if (g.material.varying && g.material.freezing) {
    facts.push_back({"Frost", detail::frost(*g.material.freezing, v)});
  }
  auto const add = [&](process::StageKind stage, char const* surface,
                       std::optional<heat::AirFilm> const& film) {
    if (film) facts.push_back(detail::film_fact(stage, surface, *film, v));
  };
  for (auto const& stage : c.stages) {
    if (auto const* wet = std::get_if<process::WetOut>(&stage)) {
      add(process::StageKind::wet_out, "liner outer face", wet->film);
    } else if (auto const* held = std::get_if<process::Held>(&stage)) {
      add(process::StageKind::held, "bladder inner face", held->film);
    } else if (auto const* bore = std::get_if<process::AfterRelease>(&stage)) {
      add(process::StageKind::after_release, "liner inner face", bore->film);
    }
  }
  return facts;
}

/// How far the ground goes and how wrong that may make the pipe's warming; empty with groundwater.
inline std::string far_words(process::Case const& c) {
  if (c.ground.water) return "";
  double const percent = 100.0 * process::end_of_ground_error(c, process::soil_thickness(c));
  return "ground out to " + fixed(c.ground.radius, 2) +
         " m, its end changes the pipe's warming by " +
         (percent < 0.01 ? "below 0.01 %" : number(percent, 2) + " %");
}

/// Each requirement of the release in a few words.
inline std::string needs(process::ReleaseNeeds const& release) {
  auto const margin = [](double K, bool whole) {
    char text[48];
    std::snprintf(text, sizeof text, whole ? "Tg ≥ T%+.0f K" : "Tg ≥ T%+.3g K", K);
    return std::string(text);
  };
  std::vector<std::string> words;
  for (auto const& need : release.needs) {
    std::string asked;
    if (need.modulus > 0.0) {
      double const MPa = 1e-6 * need.modulus;
      asked = (MPa < 100.0 ? number(MPa, 3) : fixed(MPa, 0)) + " MPa: " +
              (std::isfinite(need.Tg_margin) ? margin(need.Tg_margin, true)
                                             : std::string("beyond any resin here"));
    } else if (need.alpha > 0.0) {
      asked = "≥ " + number(100.0 * need.alpha, 3) + " %";
    } else {
      asked = margin(need.Tg_margin, false);
    }
    words.push_back(need.what + " (" + asked + ")");
  }
  return "needs: " + detail::joined(words, ", ");
}

}  // namespace cure::page
