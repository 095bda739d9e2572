#pragma once
/// The cautions of a verdict, most urgent first.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <iterator>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/process/usual_cautions.hpp"
#include "cure/process/verdict.hpp"
#include "cure/units.hpp"

#if CURE_INSIDE
#include "cure/process/caution_conditions.hpp"
#include "cure/process/caution_criterion.hpp"
#include "cure/process/caution_model.hpp"
#endif

namespace cure::process {

#if CURE_INSIDE
namespace detail {

inline void caution_times(Case const& c, Verdict& v) {
  auto const add = [&](char const* code, std::string text) {
    v.cautions.push_back({code, std::move(text)});
  };
  if (v.working_margin && *v.working_margin < 0.0) {
    add("working_margin_negative",
        "The resin passes its working limit " + minutes(-*v.working_margin) +
            " before the liner is held against the pipe: it may not bed against the wall. "
            "Cool the resin or the packer, work faster, or use a slower hardener.");
  }
  if (v.working_time && *v.working_time <= 0.0) {
    add("too_viscous_at_mixing",
        "The mix is beyond its working limit from the start: too cold or "
        "already too far cured to wet out.");
  }
  auto const needs = release_needs(c);
  bool const bears = std::isfinite(needs.Tg_margin);
  if (!bears && v.held_from && v.release_state != ReleaseState::gelled_before_held) {
    add("cannot_bear",
        "Even when it is cured the liner does not bear this with the stated factor: " +
            needs.hardest().what +
            ". It needs a thicker liner, or less to bear (release.bears in the "
            "case).");
  }
  switch (v.release_state) {
    case ReleaseState::reached: break;
    case ReleaseState::gelled_before_held:
      add("gelled_before_held",
          "The resin gels before it lies against the pipe: do not place this liner.");
      break;
    case ReleaseState::no_held_stage:
      add("no_held_stage", "The case has no held stage, so there is no release time.");
      break;
    case ReleaseState::not_in_hold: break;
    case ReleaseState::outside_model:
      add("outside_model",
          "The resin's model says nothing about setting in the cold: the wall would have to turn "
          "to glass further than there is evidence for. Warm it, or take a model that is measured "
          "in the cold.");
      break;
    case ReleaseState::vitrified:
      if (!bears) break;
      add("release_never",
          "The resin vitrifies short of the release criterion: at this temperature no waiting "
          "will release it. It must be warmed.");
      break;
  }
  if (v.curing_temperature && bears) {
    add("curing_temperature",
        "Held at " + celsius(std::ceil(*v.curing_temperature - zero_celsius) + zero_celsius) +
            " or warmer throughout, the limiting point would meet the criterion within a day.");
  }
  if (!v.service_time && v.release_state == ReleaseState::reached) {
    add("service_not_reached",
        "Within the stages given the resin's glass transition does not reach the service "
        "temperature plus its margin: a hot discharge would soften the liner.");
  }
}

inline void caution_numerics(Case const& c, Verdict& v) {
  if (!v.no_estimate.empty()) {
    v.cautions.push_back({"numerical_error_unknown",
                          "The numerical error of the times could not be estimated: a coarser run "
                          "stopped (" +
                              v.no_estimate + "). Ask for a finer accuracy."});
  }
  if (!v.numerical_error) return;
  auto const& goal = c.discretisation.release_within;
  if (auto const& error = v.numerical_error->time["release"].error; goal && error > goal) {
    char text[200];
    std::snprintf(text, sizeof text,
                  "The release is known to %.2g min by mesh and steps, not to the %.2g min asked "
                  "for: refining further takes more than one run may.",
                  *error / 60.0, *goal / 60.0);
    v.cautions.push_back({"accuracy_not_met", text});
  }
  std::string names;
  for (auto const& [name, error] : v.numerical_error->time) {
    if (!error.marginal) continue;
    auto word = name;
    std::replace(word.begin(), word.end(), '_', ' ');
    names += (names.empty() ? "" : ", ") + word;
  }
  if (names.empty()) return;
  v.cautions.push_back({"marginal",
                        "Marginal: the criterion is met or missed by less than the numerical "
                        "error, so these times may be far off or never come: " +
                            names + ". Ask for a finer accuracy, and plan on the worse."});
}

/// What a section leaves out.
inline void caution_section(Case const& c, Verdict& v) {
  if (!c.section) return;
  std::string text;
  if (c.section->around()) {
    text = "The section is one slice around the pipe: the liner's ends are not in it.";
    if (c.section->water) {
      text +=
          " The water keeps its temperature, as long as there is plenty of it; it cools or "
          "warms, but does not touch the chemistry of the resin.";
    }
  } else {
    text =
        "The section runs along the pipe and is alike all the way round: water at the invert "
        "is not in it.";
  }
  v.cautions.push_back({"section_model", text + " Before the liner is held, all of it is taken as "
                                                "even and of its nominal thickness."});
}

inline void caution_limits(Case const& c, Verdict& v, History const& history) {
  auto const add = [&](char const* code, std::string text) {
    v.cautions.push_back({code, std::move(text)});
  };
  auto const above = [&](char const* layer, double limit, char const* code,
                         char const* what = nullptr) {
    auto const at = v.layer_peak.find(layer);
    if (at == v.layer_peak.end() || !(at->second.temperature > limit)) return;
    add(code, "The " + std::string(what != nullptr ? what : layer) + " reaches " +
                  celsius(at->second.temperature) + " at " + minutes(at->second.time) +
                  ", above its limit of " + celsius(limit) + ".");
  };
  above("mixed mass", c.resin.temperature_limit, "mixed_mass_too_hot", "resin in the bucket");
  above("liner", c.resin.temperature_limit, "liner_too_hot");
  above("pipe", c.pipe.material.temperature_limit, "pipe_too_hot");
  above("bladder", c.bladder.material.temperature_limit, "bladder_too_hot");
  if (v.leftover && v.leftover->gel_time) {
    std::string text = "Mixed resin left in its pouch gels at " + minutes(*v.leftover->gel_time);
    if (v.leftover->peak_temperature > c.initial.resin + 20.0) {
      text += " and heats itself to " + celsius(v.leftover->peak_temperature) +
              ": spread it thin, never leave it in bulk";
    }
    add("leftover_mass", text + ".");
  }

  for (auto const& stage : history) {
    // Where the given temperature itself moves, the last cell lags it and says nothing.
    if (stage.mesh.find("ground") == stage.mesh.layers.size() || !c.ground.temperature.constant()) {
      continue;
    }
    std::vector<double> state(stage.path.width());
    stage.path.state_at(stage.path.times().back(), state);
    double const far = c.ground.temperature.at(stage.path.times().back());
    // A section's offsets even out round the pipe by themselves; what counts is their mean.
    auto const m = stage.columns();
    double drift = 0.0, whole = 0.0;
    for (std::size_t j = 0; j < m; ++j) {
      double const share = stage.section ? stage.section->share(j) : 1.0;
      double const offset = stage.section ? c.section->offset(stage.section->position(j)) : 0.0;
      drift += share * (state[stage.cells - m + j] - far - offset);
      whole += share;
    }
    drift = std::abs(drift) / whole;
    if (drift > 0.1) {
      add("far_radius",
          "The far radius of the ground is too small: the ground there has moved "
          "from its given temperature. Give a larger ground.radius_m.");
      break;
    }
  }
}

inline void caution_people(Case const& c, Verdict& v) {
  auto const add = [&](char const* code, std::string text) {
    v.cautions.push_back({code, std::move(text)});
  };
  add("criterion_is_assumed",
      std::string(c.release.by == ReleaseBy::conversion
                      ? "No standard gives a release criterion. "
                      : "The release criterion is this library's own assumption; no standard gives "
                        "one. ") +
          "The resin maker's data, local codes and licensed practice come first.");
  add("mixed_mass",
      "Mixed resin in bulk heats itself, may smoke or burn, and gels sooner than a "
      "thin layer.");
  for (auto const& hazard : c.resin.hazards) {
    if (hazard == "amine") {
      add("amine",
          "Amine hardeners burn and sensitise skin and lungs: gloves, eye protection, "
          "fresh air.");
    } else if (hazard == "isocyanate") {
      add("isocyanate",
          "Isocyanates sensitise the lungs, for life: supplied air where the maker "
          "says so.");
    } else if (hazard == "styrene") {
      add("styrene", "Styrene vapour is harmful and flammable: ventilate, measure, no sparks.");
    } else if (hazard == "peroxide") {
      add("peroxide",
          "Peroxides injure eyes and may burn or decompose violently: never mix with "
          "the accelerator directly.");
    }
  }
  add("confined_space",
      "Chambers and large drains are confined spaces: test the air, follow the "
      "entry rules.");
  add("stored_air",
      "An inflated bladder stores energy: stand clear, and let the air out before "
      "anything is loosened.");
}

}  // namespace detail
#endif

/// All cautions that apply, urgent ones first.
CURE_FUNCTION void add_cautions(Case const& c, History const& history, Verdict& v);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION void add_cautions(Case const& c, History const& history, Verdict& v) {
  detail::caution_times(c, v);
  detail::caution_criterion(c, v);
  detail::caution_numerics(c, v);
  detail::caution_limits(c, v, history);
  detail::caution_model(c, v, history);
  detail::caution_unusual(c, v);
  detail::caution_surfaces(c, v);
  detail::caution_ground(c, v);
  detail::caution_section(c, v);
  detail::caution_people(c, v);
}
#endif

/// Those that hold whatever the times: advice, a followed job and charts repeat them.
inline std::vector<std::string> usual_cautions(Verdict const& v) {
  std::vector<std::string> texts;
  for (auto const& caution : v.cautions) {
    if (is_usual(caution.code)) texts.push_back(caution.text);
  }
  return texts;
}

}  // namespace cure::process
