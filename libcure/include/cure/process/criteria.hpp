#pragma once
/// What the crew wants to know, as functions of the state of a stage that turn from negative to
/// not negative: workable no longer, gelled, safe to release, fit for service. Each looks at every
/// resin point, the faces of the liner among them, and also says which point decides.
///
/// No readable standard says when a bladder may come out: the release criterion (see
/// release_needs.hpp) is this project's own, and every output says so.

#include <cmath>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/process/case.hpp"
#include "cure/process/criterion.hpp"
#include "cure/process/history.hpp"
#include "cure/process/measures.hpp"
#include "cure/process/place_name.hpp"
#include "cure/process/release_needs.hpp"

#if CURE_INSIDE
#include <algorithm>
#include <iterator>
#include <utility>

#include "cure/kinetics/batch.hpp"
#include "cure/numerics/events.hpp"
#endif

namespace cure::process {

CURE_FUNCTION Criterion working_limit(Case const& c);
CURE_FUNCTION Criterion gelled(Case const& c, bool every_point);
/// Both parts of the release criterion, the nearer to failing decides.
CURE_FUNCTION Criterion releasable(Case const& c, ReleaseNeeds const& needs);
CURE_FUNCTION Criterion releasable(Case const& c);
CURE_FUNCTION Criterion serviceable(Case const& c);
/// Tg - T [K]; no event, but the point farthest into the glass decides.
CURE_FUNCTION Criterion glassiness(Case const& c);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION Criterion working_limit(Case const& c) {
  Criterion criterion{[progress = c.resin.working_progress()](double T, double alpha) {
                        return progress(T, alpha) - 1.0;
                      },
                      false};
  criterion.at_most = [&r = c.resin](double T, double alpha) {
    return r.working_progress_at_most(T, alpha) - 1.0;
  };
  return criterion;
}

CURE_FUNCTION Criterion gelled(Case const& c, bool every_point) {
  return {[&r = c.resin](double, double alpha) { return alpha - r.alpha_gel; }, every_point, true};
}

CURE_FUNCTION Criterion releasable(Case const& c, ReleaseNeeds const& needs) {
  return {[&c, alpha_min = needs.alpha_min, margin = needs.Tg_margin](double T, double alpha) {
            double const Tg = c.resin.glass_transition.at(alpha).value;
            return release_distance(T, alpha, Tg, alpha_min, margin);
          },
          true};
}
CURE_FUNCTION Criterion releasable(Case const& c) { return releasable(c, release_needs(c)); }

CURE_FUNCTION Criterion serviceable(Case const& c) {
  return {[&c](double, double alpha) {
            double const Tg = c.resin.glass_transition.at(alpha).value;
            return (Tg - c.service.temperature - c.service.Tg_margin) / 100.0;
          },
          true, true};
}

CURE_FUNCTION Criterion glassiness(Case const& c) {
  return {[&c](double T, double alpha) { return c.resin.glass_transition.at(alpha).value - T; },
          false};
}
#endif

// They look at the case for as long as they are asked.
Criterion working_limit(Case const&&) = delete;
Criterion gelled(Case const&&, bool) = delete;
Criterion releasable(Case const&&) = delete;
Criterion releasable(Case const&&, ReleaseNeeds const&) = delete;
Criterion serviceable(Case const&&) = delete;
Criterion glassiness(Case const&&) = delete;

/// A point of the part at a time.
struct Point {
  std::string layer;
  std::string position;            ///< "inner face", "middle", "outer face", or "whole mass"
  double radius = 0.0;             ///< [m]; 0 for the mixed mass
  std::optional<double> angle;     ///< from the invert, clockwise [rad]; of sections around
  std::string clock;               ///< the same in words
  std::optional<double> distance;  ///< along the liner [m]; of sections along
  double time = 0.0;               ///< on the job's clock [s]
  std::string stage;
  double temperature = 0.0;  ///< [K]
  double alpha = 0.0;        ///< [-]; of resin points
  std::vector<double> cure;  ///< all cure states, alpha first; of resin points
};

/// Where and when a cell is at a temperature [K].
CURE_FUNCTION Point cell_point(StageHistory const& stage, double time, std::size_t cell, double T);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION Point cell_point(StageHistory const& stage, double time, std::size_t cell, double T) {
  Point p;
  p.stage = name(stage.kind);
  p.time = time;
  p.temperature = T;
  p.layer = stage.lumped() ? "mixed mass" : stage.layer(cell).name;
  p.position = "whole mass";
  if (stage.lumped()) return p;
  auto const l = stage.layer_index(cell);
  p.position =
      position_name(cell / stage.columns() - stage.mesh.first[l], stage.mesh.layers[l].cells);
  p.radius = stage.radius(cell);
  if (!stage.section) return p;
  double const at = stage.section->position(cell % stage.columns());
  if (stage.section->section == heat::Section::around) {
    p.angle = at;
    p.clock = clock_name(at, !stage.section->closed);
  } else {
    p.distance = at;
  }
  return p;
}
#endif

/// A resin point by its number in the stage.
CURE_FUNCTION Point resin_point(StageHistory const& stage, double time, std::size_t point);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION Point resin_point(StageHistory const& stage, double time, std::size_t point) {
  std::vector<double> state(stage.path.width());
  stage.path.state_at(time - stage.start, state);
  auto const j = stage.cells_of(point);
  auto const cell = stage.resin_cell(j.at);
  auto p = cell_point(stage, time, cell, stage.point_temperature(state, point));
  p.cure = stage.cure_states(state, point);
  p.alpha = p.cure[0];
  if (j.at != j.behind) {
    bool const inner = j.at < j.behind;
    p.position = inner ? "inner face" : "outer face";
    p.radius = stage.face_radius(cell, inner);
  }
  return p;
}
#endif

/// The resin point that decides a criterion at a time on the job's clock.
CURE_FUNCTION Point deciding_point(StageHistory const& stage, Criterion const& criterion,
                                   double time);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION Point deciding_point(StageHistory const& stage, Criterion const& criterion,
                                   double time) {
  std::vector<double> state(stage.path.width());
  stage.path.state_at(time - stage.start, state);
  return resin_point(stage, time, criterion.decide(stage, state).second);
}
#endif

/// First point of the whole job at which the criterion is met.
CURE_FUNCTION std::optional<Point> first_met(History const& history, Criterion const& criterion);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION std::optional<Point> first_met(History const& history, Criterion const& criterion) {
  for (auto const& stage : history) {
    if (auto const t = numerics::first_turn(stage.path, criterion.on(stage),
                                            criterion.met_on(stage), criterion.lasting)) {
      return deciding_point(stage, criterion, stage.start + *t);
    }
  }
  return std::nullopt;
}
#endif

/// From the first stage in which the liner is held to the last; empty without one.
CURE_FUNCTION std::span<StageHistory const> hold_of(History const& history);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION std::span<StageHistory const> hold_of(History const& history) {
  auto const held = [](StageHistory const& stage) { return stage.kind == StageKind::held; };
  auto const first = std::find_if(history.begin(), history.end(), held);
  auto const end = std::find_if(history.rbegin(), std::make_reverse_iterator(first), held).base();
  return {history.data() + (first - history.begin()), static_cast<std::size_t>(end - first)};
}
#endif

/// Point and time from which on the criterion holds to the end of the hold. Where the bladder is
/// down then, it counts from when it is up again.
CURE_FUNCTION std::optional<Point> met_for_good(History const& history, Criterion const& criterion);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION std::optional<Point> met_for_good(History const& history,
                                                Criterion const& criterion) {
  std::optional<Point> met;
  auto const hold = hold_of(history);
  for (auto stage = hold.rbegin(); stage != hold.rend(); ++stage) {
    auto const t = numerics::lasting_turn(stage->path, criterion.on(*stage));
    if (t && stage->kind == StageKind::held) {
      met = deciding_point(*stage, criterion, stage->start + *t);
    }
    if (!t || *t > 0.0) break;
  }
  return met;
}
#endif

/// What is printed of a time that must be waited for: the next of these [s].
inline constexpr double release_step = 300.0;

/// A time that must be waited for, rounded up to 5 min [s].
inline double rounded_up(double time) {
  // A multiple of 5 min stays one in spite of round-off.
  return std::ceil(time / release_step - 1e-9) * release_step;
}

/// Lowest constant temperature [K] at which resin in a cure state reaches the release criterion
/// within `time` [s]; nothing when no temperature up to the model's limit does.
CURE_FUNCTION std::optional<double> lowest_release_temperature(Case const& c,
                                                               std::vector<double> const& cure,
                                                               double time);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION std::optional<double> lowest_release_temperature(Case const& c,
                                                               std::vector<double> const& cure,
                                                               double time) {
  auto const criterion = releasable(c);
  auto const reaches = [&](double T) {
    auto const path = kinetics::cure_isothermal(c.resin, T, cure, time, 1e-7);
    return criterion.point(T, path.state(path.times().size() - 1)[0]) >= 0.0;
  };
  double low = std::max(c.resin.validity.temperature_min, 233.15);
  double const high =
      std::min({c.resin.validity.temperature_max, c.resin.temperature_limit, 473.15});
  // Warm resin cures further but must also be glassy when warm: look upwards in steps.
  double const step = 2.5;
  if (reaches(low)) return low;
  for (double T = low + step; T <= high; T += step) {
    if (!reaches(T)) continue;
    double a = T - step, b = T;
    while (b - a > 0.05) {
      double const middle = 0.5 * (a + b);
      (reaches(middle) ? b : a) = middle;
    }
    return b;
  }
  return std::nullopt;
}
#endif

}  // namespace cure::process
