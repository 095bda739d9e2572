#pragma once
/// How far mesh and steps may have moved each reported time. The job is run twice more: on cells
/// twice as wide, and on those with step tolerances `tolerance_factor` times as loose.
///
/// The deciding point is a cell's node, half a cell from the face it stands for, so a criterion's
/// error in the mesh falls with the cell width: halving it leaves an error as large as the change.
/// The safety factor on it is that of P.J. Roache, J. Fluids Eng. 116, 405, 1994 (1.25; from
/// memory). A third-order step holds its error in proportion to the tolerance, so a looser one
/// leaves 1/(tolerance_factor - 1) of the change; doubled, since the solver cannot hold steps to
/// exactly that.
///
/// Two measures are taken, and the larger holds: how far the time itself moved; and, on the
/// solution's own course, from when to when the criterion may be met if its distance is off by its
/// estimated error at each moment. The second tells a plateau: there a small error in the criterion
/// is a large one in time, and where the criterion is never passed by its error, how late it may be
/// cannot be told.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <utility>
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

/// Estimated error of a value from its three runs.
inline double combined(double fine, double coarse, double loose) {
  return 1.25 * std::abs(fine - coarse) + 2.0 * std::abs(coarse - loose) / (tolerance_factor - 1.0);
}

class ErrorEstimate {
 public:
  ErrorEstimate(Case const& c, History const& history)
      : history_(history),
        coarse_(same_job(coarser(c, 1.0), history)),
        loose_(same_job(coarser(c, tolerance_factor), history)) {}

  /// @param lasting the time from which on the criterion holds in the held stage; else the first
  /// time in the job
  /// @param met when it was met [s]
  [[nodiscard]] TimeError of(Criterion const& criterion, bool lasting,
                             std::optional<double> met) const {
    auto const early = crossing(criterion, lasting, 1.0);
    if (!met) return {std::nullopt, early.has_value()};
    auto const late = crossing(criterion, lasting, -1.0);
    if (!late) return {std::nullopt, true};
    double error = std::max({*met - early.value_or(*met), *late - *met, least});
    auto const coarse = time(coarse_, criterion, lasting), loose = time(loose_, criterion, lasting);
    if (coarse && loose) error = std::max(error, combined(*met, *coarse, *loose));
    return {error, false};
  }

  [[nodiscard]] double peak(Verdict const& v) const {
    auto const hottest = [](History const& history) {
      Verdict peaks;
      find_peaks(history, peaks);
      return peaks.peak.temperature;
    };
    return combined(v.peak.temperature, hottest(coarse_), hottest(loose_));
  }

 private:
  /// Error of the search for a time on the solution, and of the single-temperature stages [s].
  static constexpr double least = 0.1;

  static std::optional<double> time(History const& history, Criterion const& criterion,
                                    bool lasting) {
    if (!lasting) {
      auto const point = first_met(history, criterion);
      return point ? std::optional(point->time) : std::nullopt;
    }
    for (auto const& stage : history) {
      if (stage.kind != "held") continue;
      auto const point = met_for_good(stage, criterion);
      return point ? std::optional(point->time) : std::nullopt;
    }
    return std::nullopt;
  }

  /// Distance of the deciding point from the criterion in stage s at a time [s], moved by `sign`
  /// times its error.
  [[nodiscard]] double moved(Criterion const& criterion, std::size_t s, double t,
                             double sign) const {
    auto const distance = [&](History const& history) {
      auto const& stage = history[s];
      std::vector<double> state(stage.path.width());
      stage.path.state_at(t - stage.start, state);
      return criterion.decide(stage, state).first;
    };
    double const fine = distance(history_);
    return fine + sign * combined(fine, distance(coarse_), distance(loose_));
  }

  /// When the moved distance stops being negative: first in the job, or for good while held [s].
  [[nodiscard]] std::optional<double> crossing(Criterion const& criterion, bool lasting,
                                               double sign) const {
    std::optional<double> found;
    for (std::size_t s = 0; s < history_.size(); ++s) {
      auto const& stage = history_[s];
      if (lasting && stage.kind != "held") continue;
      double before = stage.start;
      for (double const after : stage.path.refined_times(1)) {
        double const t = stage.start + after;
        if (moved(criterion, s, t, sign) < 0.0) {
          before = t;
          found.reset();
        } else if (!found) {
          found = bisect(criterion, s, sign, before, t);
          if (!lasting) return found;
        }
      }
    }
    return found;
  }

  [[nodiscard]] double bisect(Criterion const& criterion, std::size_t s, double sign, double low,
                              double high) const {
    while (high - low > 0.1 * least) {
      double const middle = 0.5 * (low + high);
      (moved(criterion, s, middle, sign) < 0.0 ? low : high) = middle;
    }
    return high;
  }

  History const& history_;
  History coarse_, loose_;
};

}  // namespace detail

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
  auto& recommended_error = e.time["release_recommended"] = e.time["release"];
  if (auto const error = e.time["release"].error) {
    auto const at = [&](double t) { return recommended(t, c.release.safety_factor); };
    double const t = *v.release_time;
    recommended_error.error = std::max(at(t + *error) - at(t), at(t) - at(t - *error));
  }
  if (v.release_time_recommended) {
    std::optional<double> fit;
    if (v.service_time) fit = v.limiting.at("service").time;
    bool const waits_for_release = fit && *fit < *v.service_time;
    e.time["service"] =
        waits_for_release ? recommended_error : estimate.of(serviceable(c), false, fit);
  } else {
    e.time["service"] = {};
  }
  e.peak_temperature = estimate.peak(v);
  return e;
}

}  // namespace cure::process
