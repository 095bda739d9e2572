#pragma once
/// Cautions about the resin model of a case: where it is valid, what was measured of it.

#include <algorithm>
#include <cstdio>
#include <string>
#include <utility>

#include "cure/process/verdict.hpp"
#include "cure/units.hpp"

namespace cure::process {

/// What nobody measured of a resin, in words; empty where nothing is missing.
inline std::string not_measured(kinetics::Evidence const& known) {
  std::string words = known.cold_from_family ? "how it sets in the cold" : "";
  if (known.bulk_from_family) {
    words += std::string(words.empty() ? "" : ", and ") + "how it heats itself in bulk";
  }
  return words;
}

namespace detail {

inline std::string minutes(double seconds) {
  char text[32];
  std::snprintf(text, sizeof text, "%.0f min", seconds / 60.0);
  return text;
}
inline std::string celsius(double kelvin) {
  char text[32];
  std::snprintf(text, sizeof text, "%.0f °C", celsius_from_kelvin(kelvin));
  return text;
}
inline std::string percent(double fraction) {
  char text[32];
  std::snprintf(text, sizeof text, "%.0f %%", 100.0 * fraction);
  return text;
}

/// Where jobs are outside of what a model has foretold.
/// @param T_low the coldest resin [K]
inline void caution_verified(Case const& c, Verdict& v, History const& history, double T_low) {
  auto const& verified = c.resin.evidence.verified;
  if (!verified || history.empty()) return;
  auto const& last = history.back();
  auto const state = last.path.state(last.path.times().size() - 1);
  double T_end = 0.0;
  for (std::size_t p = 0; p < last.points(); ++p) {
    T_end = std::max(T_end, last.point_temperature(state, p));
  }
  auto const [low, high] = *verified;
  if (T_low >= low && T_end <= high) return;
  v.cautions.push_back(
      {"outside_verified", "The resin is at " + celsius(T_low) + " at its coldest and at " +
                               celsius(T_end) +
                               " in the end; its model is an estimate that has foretold "
                               "measurements only from " +
                               celsius(low) + " to " + celsius(high) + "."});
}

inline void caution_model(Case const& c, Verdict& v, History const& history) {
  auto const add = [&](char const* code, std::string text) {
    v.cautions.push_back({code, std::move(text)});
  };
  // Iced resin may be colder than what cures, though not below freezing (a choice of this
  // project): the lower limit is for the liner in its place.
  double T_low = 1e9, T_curing = 1e9, T_high = 0.0, alpha_high = 0.0;
  bool const held = v.held_from.has_value();
  for (auto const& stage : history) {
    bool const cures = !held || stage.start >= *v.held_from;
    for (std::size_t i = 0; i < stage.path.times().size(); ++i) {
      auto const state = stage.path.state(i);
      for (std::size_t p = 0; p < stage.points(); ++p) {
        double const T = stage.point_temperature(state, p);
        T_low = std::min(T_low, T);
        if (cures) T_curing = std::min(T_curing, T);
        T_high = std::max(T_high, T);
        alpha_high = std::max(alpha_high, stage.point_alpha(state, p));
      }
    }
  }
  auto const& valid = c.resin.validity;
  bool const cold = T_curing < valid.temperature_min;
  double const coldest = cold ? T_curing : T_low;
  if (cold || T_low < std::min(valid.temperature_min, zero_celsius) ||
      T_high > valid.temperature_max) {
    add("outside_validity", "The resin is between " + celsius(coldest) + " and " + celsius(T_high) +
                                "; its model is valid from " + celsius(valid.temperature_min) +
                                " to " + celsius(valid.temperature_max) + ".");
  }
  if (alpha_high > valid.alpha_max + 1e-9) {
    add("outside_validity_alpha", "The degree of cure reaches " + percent(alpha_high) +
                                      "; its model is valid up to " + percent(valid.alpha_max) +
                                      ".");
  }
  if (c.resin.estimated) {
    add("model_estimated",
        "The resin model is estimated, not measured on a product: do not plan a "
        "real job on it.");
  }
  if (c.resin.transcribed) {
    add("model_transcribed",
        "The resin's rate constants were read at second hand; their authors' own table was not "
        "seen." +
            (c.resin.assumed.empty()
                 ? std::string()
                 : " Assumed by this project, not from that source: " + c.resin.assumed + "."));
  }
  if (auto const missing = not_measured(c.resin.evidence); !missing.empty()) {
    add("not_measured", "Not measured of this resin, but taken from others of its family: " +
                            missing + ". Its times rest on that.");
  }
  caution_verified(c, v, history, T_low);
}

}  // namespace detail

}  // namespace cure::process
