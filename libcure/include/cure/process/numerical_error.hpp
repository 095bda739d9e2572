#pragma once
/// How far mesh and steps may have moved each reported time. The job is run twice more: on cells
/// twice as wide, and on those with step tolerances `tolerance_factor` times as loose.
///
/// Three parts add up, each without its sign, so that none hides another:
///  - Criteria look at nodes, and the outermost node stands half a cell inside the face where the
///    resin is coldest or hottest: an error of first order in the cell width. It is what the
///    criterion changes by when temperature and cure are carried on to the face in a straight line.
///  - What is left on the faces is of second order: a third of the change on cells twice as wide,
///    times the safety factor for a pair of meshes, 3 (P.J. Roache, J. Fluids Eng. 116, 405, 1994;
///    from memory).
///  - Steps of third order hold their error in proportion to the tolerance: 1/(tolerance_factor -
///  1)
///    of the change with looser ones, times 3 as well.
/// Two measures of them are taken, and the larger holds: how far the time itself moved; and, on the
/// solution's own course, from when to when the criterion may be met if its distance is off by its
/// error at each moment. The second tells a plateau: there a small error in the criterion is a
/// large one in time, and where the criterion is never passed by its error, how late it may be
/// cannot be told.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/process/verdict.hpp"

namespace cure::process {

inline constexpr double tolerance_factor = 8.0;

namespace detail {

/// The same case on cells twice as wide, steps `loose` times as loose.
inline Case coarser(Case c, double loose) {
  c.discretisation = c.discretisation.coarser(2.0);
  c.discretisation.tolerance.temperature *= loose;
  c.discretisation.tolerance.alpha *= loose;
  if (c.section) c.section->columns = std::max<std::size_t>(4, c.section->columns / 2);
  return c;
}

/// A run of it whose held stage ends when that of `history` does.
inline History same_job(Case const& c, History const& history) {
  return Simulation(c).run([&](StageHistory const& held) -> std::optional<double> {
    for (auto const& stage : history) {
      if (stage.kind == held.kind && stage.end() < held.end()) return stage.end();
    }
    return std::nullopt;
  });
}

/// Calls `visit(T, alpha)` for each face point of the liner, all columns, where temperature [K] and
/// cure are carried on in a straight line from the two cells before it.
template <class Visit>
void at_faces(StageHistory const& stage, std::span<double const> state, Visit const& visit) {
  if (stage.lumped() || stage.mesh.layers[stage.mesh.find("liner")].cells < 2) return;
  auto const alpha = stage.alpha(state);
  // Resin cells stand row by row, as many in each.
  auto const rows = stage.mesh.layers[stage.mesh.find("liner")].cells;
  auto const m = stage.reacting / rows, last = stage.reacting - m;
  auto const extend = [&](std::size_t j, std::size_t before) {
    double const T = state[stage.resin_cell(j)], T_before = state[stage.resin_cell(before)];
    visit(1.5 * T - 0.5 * T_before, std::clamp(1.5 * alpha[j] - 0.5 * alpha[before], 0.0, 1.0));
  };
  for (std::size_t k = 0; k < m; ++k) {
    extend(k, k + m);
    extend(last + k, last + k - m);
  }
}

/// Distance from a criterion of the point that decides, faces included.
inline double decide_with_faces(Criterion const& criterion, StageHistory const& stage,
                                std::span<double const> state) {
  double decided = criterion.decide(stage, state).first;
  at_faces(stage, state, [&](double T, double alpha) {
    double const g = criterion.point(T, alpha);
    decided = criterion.every_point ? std::min(decided, g) : std::max(decided, g);
  });
  return decided;
}

/// The same value at nodes and with faces of the run, and with faces of the coarser ones.
struct Runs {
  double nodes, faces, coarse, loose;
  [[nodiscard]] double error() const {
    return std::abs(faces - nodes) + std::abs(faces - coarse) +
           3.0 * std::abs(coarse - loose) / (tolerance_factor - 1.0);
  }
};

class ErrorEstimate {
 public:
  ErrorEstimate(Case const& c, History const& history)
      : history_(history),
        coarse_(same_job(coarser(c, 1.0), history)),
        loose_(same_job(coarser(c, tolerance_factor), history)) {}

  ErrorEstimate(Case const&, History const&&) = delete;

  /// @param lasting the time from which on the criterion holds in the held stage; else the first
  /// time in the job
  /// @param met when it was met [s]
  [[nodiscard]] TimeError of(Criterion const& criterion, bool lasting,
                             std::optional<double> met) const {
    auto const band = samples(criterion, lasting);
    auto const early = crossing(criterion, band, lasting, 1.0);
    if (!met) return {std::nullopt, early.has_value()};
    auto const late = crossing(criterion, band, lasting, -1.0);
    if (!late) return {std::nullopt, true};
    double error = std::max({*met - early.value_or(*met), *late - *met, least});
    auto const faces = time(history_, criterion, lasting);
    auto const coarse = time(coarse_, criterion, lasting);
    auto const loose = time(loose_, criterion, lasting);
    if (faces && coarse && loose)
      error = std::max(error, Runs{*met, *faces, *coarse, *loose}.error());
    return {error, false};
  }

  [[nodiscard]] double peak(Verdict const& v) const {
    auto const hottest = [](History const& history) {
      double T_max = 0.0;
      for (auto const& stage : history) {
        std::vector<double> state(stage.path.width());
        for (double const t : stage.path.refined_times(3)) {
          stage.path.state_at(t, state);
          for (std::size_t j = 0; j < stage.reacting; ++j) {
            T_max = std::max(T_max, state[stage.resin_cell(j)]);
          }
          at_faces(stage, state, [&](double T, double) { T_max = std::max(T_max, T); });
        }
      }
      return T_max;
    };
    return Runs{v.peak.temperature, hottest(history_), hottest(coarse_), hottest(loose_)}.error();
  }

 private:
  /// Error of the search for a time on the solution, and of the single-temperature stages [s].
  static constexpr double least = 0.1;

  /// When the criterion is met, faces included [s].
  static std::optional<double> time(History const& history, Criterion const& criterion,
                                    bool lasting) {
    for (auto const& stage : history) {
      if (lasting && stage.kind != StageKind::held) continue;
      numerics::EventFunction const g = [&](std::span<double const> state) {
        return decide_with_faces(criterion, stage, state);
      };
      auto const t =
          lasting ? numerics::lasting_event(stage.path, g) : numerics::first_event(stage.path, g);
      if (t) return stage.start + *t;
    }
    return std::nullopt;
  }

  /// Distance of the deciding point from a criterion in stage s at a time [s], and its error.
  struct Sample {
    std::size_t s;
    double t, distance, error;
    [[nodiscard]] double moved(double sign) const { return distance + sign * error; }
  };
  [[nodiscard]] Sample sample(Criterion const& criterion, std::size_t s, double t) const {
    auto const at = [&](History const& history) {
      auto const& stage = history[s];
      std::vector<double> state(stage.path.width());
      stage.path.state_at(t - stage.start, state);
      return state;
    };
    auto const state = at(history_);
    double const nodes = criterion.decide(history_[s], state).first;
    Runs const runs{nodes, decide_with_faces(criterion, history_[s], state),
                    decide_with_faces(criterion, coarse_[s], at(coarse_)),
                    decide_with_faces(criterion, loose_[s], at(loose_))};
    return {s, t, nodes, runs.error()};
  }

  /// At the run's steps and half-way between.
  [[nodiscard]] std::vector<Sample> samples(Criterion const& criterion, bool lasting) const {
    std::vector<Sample> band;
    for (std::size_t s = 0; s < history_.size(); ++s) {
      if (lasting && history_[s].kind != StageKind::held) continue;
      for (double const after : history_[s].path.refined_times(1)) {
        band.push_back(sample(criterion, s, history_[s].start + after));
      }
    }
    return band;
  }

  /// When the distance moved by its error stops being negative, first or for good [s].
  [[nodiscard]] std::optional<double> crossing(Criterion const& criterion,
                                               std::vector<Sample> const& band, bool lasting,
                                               double sign) const {
    std::optional<double> found;
    for (std::size_t i = 0; i < band.size(); ++i) {
      if (band[i].moved(sign) < 0.0) {
        found.reset();
      } else if (!found) {
        bool const inside = i > 0 && band[i - 1].s == band[i].s;
        double low = inside ? band[i - 1].t : band[i].t, high = band[i].t;
        while (high - low > 0.1 * least) {
          double const middle = 0.5 * (low + high);
          (sample(criterion, band[i].s, middle).moved(sign) < 0.0 ? low : high) = middle;
        }
        found = high;
        if (!lasting) break;
      }
    }
    return found;
  }

  History const& history_;
  History coarse_, loose_;
};

}  // namespace detail

inline bool ends_at_release(Case const& c) {
  return std::any_of(c.stages.begin(), c.stages.end(), [](Stage const& stage) {
    auto const* held = std::get_if<Held>(&stage);
    return held != nullptr && held->until_release;
  });
}

/// @param history and verdict of the case. @throws SolverError
inline NumericalError estimate_error(Case const& c, History const& history, Verdict const& v) {
  detail::ErrorEstimate const estimate(c, history);
  NumericalError e;
  e.time["working"] = estimate.of(working_limit(c), false, v.working_time);
  e.time["gel_first"] = estimate.of(gelled(c, false), false, v.gel_time_first);
  e.time["gel_last"] = estimate.of(gelled(c, true), false, v.gel_time_last);
  if (v.release_state == ReleaseState::gelled_before_held ||
      v.release_state == ReleaseState::no_held_stage) {
    e.time["release"] = {};
  } else {
    e.time["release"] = estimate.of(releasable(c), true, v.release_time);
  }
  // Rounding up to 5 min swallows most errors; one that it does not swallow moves the time by 5.
  auto recommended_error = e.time["release"];
  if (auto const error = e.time["release"].error) {
    auto const at = [&](double t) { return recommended(t, c.release.safety_factor); };
    double const t = *v.release_time;
    recommended_error.error = std::max(at(t + *error) - at(t), at(t) - at(t - *error));
  }
  e.time["release_recommended"] = recommended_error;
  if (v.release_time_recommended) {
    std::optional<double> fit;
    if (v.service_time) fit = v.limiting.at("service").time;
    auto& service = e.time["service"];
    service = estimate.of(serviceable(c), false, fit);
    double const release = recommended_error.error.value_or(0.0);
    if (service.error && *fit < *v.service_time) {
      // Service waits for the release, unless the resin is later than it seems.
      service.error = std::max(release, *fit + *service.error - *v.service_time);
    } else if (service.error && ends_at_release(c)) {
      // A release that moves by 5 min takes the stage after it with it.
      *service.error += release;
    }
  } else {
    e.time["service"] = {};
  }
  e.peak_temperature = estimate.peak(v);
  return e;
}

}  // namespace cure::process
