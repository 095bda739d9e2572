#pragma once
/// From a case to its answer: the times, the points that decide them, the peaks and the cautions.
/// All times count from mixing.

#include <algorithm>
#include <cstddef>
#include <limits>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/process/release_state.hpp"

#if CURE_INSIDE
#include "cure/process/simulate.hpp"
#endif
#include "cure/process/conditions.hpp"

namespace cure::process {

/// Something the reader must know; `code` is stable, `text` is for people.
struct Caution {
  std::string code;
  std::string text;
};

struct LeftoverMass {
  std::optional<double> gel_time;  ///< [s]
  double peak_temperature = 0.0;   ///< [K]
  double peak_time = 0.0;          ///< [s]
};

/// Estimated numerical error of a time (see numerical_error.hpp).
struct TimeError {
  std::optional<double> error;  ///< [s]; nothing where there is no time, or it cannot be told
  bool marginal = false;        ///< the criterion is met, or missed, by less than its error
};

struct NumericalError {
  std::map<std::string, TimeError> time;  ///< by name of the time
  double peak_temperature = 0.0;          ///< [K]
};

struct Verdict {
  std::optional<double> working_time, gel_time_first, gel_time_last;  ///< [s]
  std::optional<double> release_time;  ///< from when the release criterion is met [s]
  std::optional<double> bladder_out;   ///< from when this run has it out, if it is met by then [s]
  std::optional<double> service_time;  ///< [s]
  std::optional<double> held_from;     ///< [s]
  std::optional<double> working_margin;  ///< working time less held_from [s]
  ReleaseState release_state = ReleaseState::no_held_stage;
  std::optional<double> curing_temperature;  ///< that would release within a day [K]

  std::map<std::string, Point> limiting;  ///< by name of the time
  Point peak;                             ///< hottest resin point
  std::map<std::string, Point> layer_peak;
  std::optional<LeftoverMass> leftover;  ///< the mixed mass, had it stayed in its pouch

  std::map<std::string, FilmUse> films;           ///< coefficients by correlation, by stage
  std::optional<double> coldest_ground;           ///< of any cell of the ground [K]
  std::optional<NumericalError> numerical_error;  ///< where it was asked for
  std::string no_estimate;                        ///< why it could not be had
  double energy_residual = 0.0;                   ///< worst of all stages [-]
  std::size_t steps = 0, rejections = 0;
  std::vector<Caution> cautions;
};

#if CURE_INSIDE
namespace detail {

/// Hottest cell of each layer of a stage, or resin point: its temperature, time and number.
struct Hottest {
  double T = 0.0;
  double time = 0.0;
  std::size_t number = 0;
  bool resin = false;  ///< whether it is the number of a resin point
};

/// By name of the layer.
inline std::map<std::string, Hottest> hottest_by_layer(StageHistory const& stage) {
  std::vector<Hottest> best(stage.cells), best_resin(stage.points());
  std::vector<double> state(stage.path.width());
  for (double const t : stage.path.refined_times(3)) {
    stage.path.state_at(t, state);
    for (std::size_t i = 0; i < best.size(); ++i) {
      if (state[i] > best[i].T) best[i] = {state[i], t, i, false};
    }
    for (std::size_t p = 0; p < best_resin.size(); ++p) {
      double const T = stage.point_temperature(state, p);
      if (T > best_resin[p].T) best_resin[p] = {T, t, p, true};
    }
  }
  std::map<std::string, Hottest> layers;
  auto const take = [&](Hottest const& b, std::size_t cell) {
    auto& layer = layers[stage.lumped() ? "mixed mass" : stage.layer(cell).name];
    if (b.T > layer.T) layer = b;
  };
  // A resin point first: of its cell it knows the cure too.
  for (auto const& b : best_resin) take(b, stage.resin_cell(stage.cells_of(b.number).at));
  for (auto const& b : best) take(b, b.number);
  return layers;
}

inline void find_peaks(History const& history, Verdict& v) {
  for (auto const& stage : history) {
    for (auto const& [name, b] : hottest_by_layer(stage)) {
      // What fills a gap is no layer of its own.
      if (!stage.lumped() && stage.mesh.find(name) == stage.mesh.layers.size()) continue;
      auto const p = b.resin ? resin_point(stage, stage.start + b.time, b.number)
                             : cell_point(stage, stage.start + b.time, b.number, b.T);
      auto& so_far = v.layer_peak[name];
      if (so_far.layer.empty() || p.temperature > so_far.temperature) so_far = p;
      if (b.resin && (v.peak.layer.empty() || p.temperature > v.peak.temperature)) v.peak = p;
    }
  }
}

/// The lowest temperature of the ground, while the wall lay in it.
inline std::optional<double> coldest_ground(History const& history) {
  std::optional<double> lowest;
  for (auto const& stage : history) {
    auto const l = stage.mesh.find("ground");
    if (l == stage.mesh.layers.size()) continue;
    auto const m = stage.columns();
    for (std::size_t i = 0; i < stage.path.times().size(); ++i) {
      for (double const T :
           stage.path.state(i).subspan(m * stage.mesh.first[l], m * stage.mesh.layers[l].cells)) {
        lowest = std::min(lowest.value_or(T), T);
      }
    }
  }
  return lowest;
}

/// Of the hottest resin point its temperature and time alone.
inline void find_hottest_resin(History const& history, Verdict& v) {
  for (auto const& stage : history) {
    std::vector<double> state(stage.path.width());
    for (double const t : stage.path.refined_times(3)) {
      stage.resin_temperatures_at(t, state);
      stage.each_point([&](PointCells j) {
        double const T = stage.temperature_of(state, j);
        if (T <= v.peak.temperature) return;
        v.peak.temperature = T;
        v.peak.time = stage.start + t;
      });
    }
  }
}

/// The hold's last state has failed: still curing, or stopped?
inline ReleaseState why_not_released(Case const& c, StageHistory const& held, Verdict& v) {
  auto const criterion = releasable(c);
  auto const last = held.path.state(held.path.times().size() - 1);
  auto const point = resin_point(held, held.end(), criterion.decide(held, last).second);
  v.limiting["release"] = point;
  auto const later =
      kinetics::cure_isothermal(c.resin, point.temperature, point.cure, look_ahead, 1e-7);
  return unreleased_state(c, criterion, point.temperature, point.alpha,
                          later.state(later.times().size() - 1)[0]);
}

/// Warmth from the moment it was held: the deciding point's cure then, a day from there [K].
inline std::optional<double> curing_temperature(Case const& c, std::span<StageHistory const> hold) {
  auto const& first = hold.front();
  auto const& last = hold.back();
  auto const end = last.path.state(last.path.times().size() - 1);
  auto const decides = releasable(c).decide(last, end).second;
  return lowest_release_temperature(c, first.cure_states(first.path.state(0), decides), 86400.0);
}

/// A time that is part of a verdict, with what decides it.
inline void take_time(Verdict& v, char const* name, std::optional<double>& time,
                      std::optional<Point> const& point) {
  if (!point) return;
  time = point->time;
  v.limiting[name] = *point;
}

/// The first gel, and the release of what had not gelled before it was held.
/// @returns whether the release state came from what the hold's end says
inline bool judge_release(Case const& c, History const& history, Verdict& v) {
  take_time(v, "gel_first", v.gel_time_first, first_met(history, gelled(c, false)));
  auto const hold = hold_of(history);
  if (hold.empty()) return false;
  double const held_from = hold.front().start;
  v.held_from = held_from;
  std::optional<Point> met;
  bool unreleased = false;
  v.release_state = release_state(
      c, v.gel_time_first && *v.gel_time_first < held_from,
      [&]() -> std::optional<double> {
        met = met_for_good(history, releasable(c));
        if (!met) return std::nullopt;
        auto const& stage = *std::find_if(hold.begin(), hold.end(),
                                          [&](auto const& s) { return met->time <= s.end(); });
        std::vector<double> state(stage.path.width());
        stage.path.state_at(met->time - stage.start, state);
        return glassiness(c).decide(stage, state).first;
      },
      [&] {
        unreleased = true;
        return why_not_released(c, hold.back(), v);
      });
  if (met) v.limiting["release"] = *met;
  if (v.release_state == ReleaseState::reached) v.release_time = met->time;
  return unreleased;
}

/// The times up to the release, and what decides them: all that a row of an ensemble keeps.
/// @returns as judge_release
inline bool judge_times(Case const& c, History const& history, Verdict& v) {
  take_time(v, "working", v.working_time, first_met(history, working_limit(c)));
  take_time(v, "gel_last", v.gel_time_last, first_met(history, gelled(c, true)));
  for (auto const& stage : history) {
    v.steps += stage.steps;
    v.rejections += stage.rejections;
  }
  bool const unreleased = judge_release(c, history, v);
  if (v.held_from && v.working_time) v.working_margin = *v.working_time - *v.held_from;
  return unreleased;
}

/// When the bladder is out, and when the liner is fit for service, with the point that decides it.
/// Tg never falls, so the first time is also the lasting one; but a pipe with the bladder in it is
/// not in service.
/// @param v with its times up to the release
inline std::optional<Point> judge_service(Case const& c, History const& history,
                                          std::optional<double> bladder_out, Verdict& v) {
  if (!v.release_time) return std::nullopt;
  v.bladder_out = bladder_out.value_or(rounded_up(*v.release_time * c.release.safety_factor));
  auto const point = first_met(history, serviceable(c));
  if (point) v.service_time = std::max(point->time, *v.bladder_out);
  return point;
}

/// Of several pots in turn that which gels first, and the hottest of them.
inline std::optional<LeftoverMass> leftover_mass(Case const& c) {
  std::optional<LeftoverMass> left;
  CarriedState carried(c);
  each<MixedMass>(c, [&](MixedMass const& pot) {
    auto const path = kinetics::cure_lumped(
        c.resin, {pot.mass, pot.surface_area, pot.h, pot.ambient}, carried.resin_temperature,
        carried.resin_states, std::max(86400.0, pot.duration), 1e-7);
    if (!left) left.emplace();
    if (auto const gel = numerics::first_event(
            path, [&](std::span<double const> s) { return s[1] - c.resin.alpha_gel; })) {
      left->gel_time = std::min(carried.clock + *gel, left->gel_time.value_or(1e300));
    }
    for (std::size_t i = 0; i < path.times().size(); ++i) {
      if (path.state(i)[0] <= left->peak_temperature) continue;
      left->peak_temperature = path.state(i)[0];
      left->peak_time = carried.clock + path.times()[i];
    }
    std::vector<double> state(path.width());
    path.state_at(pot.duration, state);
    carried.resin_temperature = state[0];
    carried.resin_states.assign(state.begin() + 1, state.end());
    carried.clock += pot.duration;
  });
  return left;
}

}  // namespace detail
#endif

/// Reads the times off a history. Cautions are added by add_cautions.
/// @param bladder_out when the bladder is to come out [s]; else the time at which the criterion is
/// met, times the safety factor, rounded up
CURE_FUNCTION Verdict judge(Case const& c, History const& history,
                            std::optional<double> bladder_out = std::nullopt);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION Verdict judge(Case const& c, History const& history,
                            std::optional<double> bladder_out) {
  Verdict v;
  bool const unreleased = detail::judge_times(c, history, v);
  for (auto const& stage : history) {
    v.energy_residual = std::max(v.energy_residual, stage.energy_residual);
    if (!stage.film) continue;
    auto& film = v.films[name(stage.kind)];
    film = *wider(film, stage.film);
  }
  v.coldest_ground = detail::coldest_ground(history);
  if (unreleased) v.curing_temperature = detail::curing_temperature(c, hold_of(history));
  if (auto const point = detail::judge_service(c, history, bladder_out, v)) {
    v.limiting["service"] = *point;
  } else if (!history.empty() && !history.back().lumped()) {
    v.limiting["service"] = deciding_point(history.back(), serviceable(c), history.back().end());
  }
  detail::find_peaks(history, v);
  v.leftover = detail::leftover_mass(c);
  return v;
}
#endif

}  // namespace cure::process
