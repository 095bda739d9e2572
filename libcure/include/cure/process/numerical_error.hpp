#pragma once
/// How far mesh and steps may have moved each reported time. The job is run twice more: on cells
/// twice as wide, and on those with step tolerances `tolerance_factor` times as loose.
///
/// Two parts add up, each without its sign, so that neither hides the other:
///  - Nodes and faces (see faces.hpp) tend to second order in the cell width; the order taken is
///    1.5, as few cells do not reach it: 1/(2^1.5 - 1) of the change on cells twice as wide, times
///    the safety factor for a pair of meshes, 3 (P.J. Roache, J. Fluids Eng. 116, 405, 1994; from
///    memory).
///  - Steps of third order hold their error in proportion to the tolerance: 1/(tolerance_factor -
///    1) of the change with looser ones, times 3 as well.
/// Two measures of them are taken, and the larger holds: how far the time itself moved; and, on the
/// solution's own course, from when to when the criterion may be met if its distance is off by its
/// error at each moment. The second tells a plateau: there a small error in the criterion is a
/// large one in time, and where the criterion is never passed by its error, how late it may be
/// cannot be told.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <numbers>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/process/verdict.hpp"

namespace cure::process {

inline constexpr double tolerance_factor = 8.0;

#if CURE_INSIDE
namespace detail {

/// The same case on cells twice as wide, steps `loose` times as loose.
inline Case coarser(Case c, double loose) {
  c = on_wider_cells(std::move(c));
  c.discretisation.tolerance.temperature *= loose;
  c.discretisation.tolerance.alpha *= loose;
  return c;
}

/// A run of it whose hold ends when that of `history` does.
inline History same_job(Case const& c, History const& history) {
  double const end = hold_of(history).empty() ? 0.0 : hold_of(history).back().end();
  return Simulation(c).run([end](History const& so_far) {
    return end < so_far.back().end() ? std::optional(end) : std::nullopt;
  });
}

/// The same value of the run and of the coarser ones.
struct Runs {
  double own, coarse, loose;
  [[nodiscard]] double error() const {
    double const in_space = std::abs(own - coarse) / (2.0 * std::numbers::sqrt2 - 1.0);
    return 3.0 * (in_space + std::abs(coarse - loose) / (tolerance_factor - 1.0));
  }
};

/// Error of the search for a time on the solution, and of the single-temperature stages [s].
inline constexpr double least_error = 0.1;

class ErrorEstimate {
 public:
  ErrorEstimate(Case const& c, History const& history)
      : history_(history),
        coarse_(same_job(coarser(c, 1.0), history)),
        loose_(same_job(coarser(c, tolerance_factor), history)) {}

  ErrorEstimate(Case const&, History const&&) = delete;

  /// @param lasting the time from which on the criterion holds to the end of the hold; else the
  /// first time in the job
  /// @param met when it was met [s]
  [[nodiscard]] TimeError of(Criterion const& criterion, bool lasting,
                             std::optional<double> met) const {
    auto const band = samples(criterion, lasting);
    auto const early = crossing(criterion, band, lasting, 1.0);
    if (!met) return {std::nullopt, early.has_value()};
    auto const late = crossing(criterion, band, lasting, -1.0);
    if (!late) return {std::nullopt, true};
    double error = std::max({*met - early.value_or(*met), *late - *met, least_error});
    auto const coarse = time(coarse_, criterion, lasting);
    auto const loose = time(loose_, criterion, lasting);
    if (coarse && loose) error = std::max(error, Runs{*met, *coarse, *loose}.error());
    return {error, false};
  }

  [[nodiscard]] double peak(Verdict const& v) const {
    auto const hottest = [](History const& history) {
      Verdict found;
      find_peaks(history, found);
      return found.peak.temperature;
    };
    return Runs{v.peak.temperature, hottest(coarse_), hottest(loose_)}.error();
  }

 private:
  /// When the criterion is met [s].
  static std::optional<double> time(History const& history, Criterion const& criterion,
                                    bool lasting) {
    auto const met = lasting ? met_for_good(history, criterion) : first_met(history, criterion);
    return met ? std::optional(met->time) : std::nullopt;
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
      state_.resize(stage.path.width());
      stage.resin_at(t - stage.start, state_);
      return criterion.decide(stage, state_, points_).first;
    };
    Runs const runs{at(history_), at(coarse_), at(loose_)};
    return {s, t, runs.own, runs.error()};
  }

  /// In order, at the run's steps and half-way between: of a first time as far as both its
  /// crossings go, of a lasting one from where they begin.
  [[nodiscard]] std::vector<Sample> samples(Criterion const& criterion, bool lasting) const {
    std::vector<std::pair<std::size_t, double>> times;
    auto const part = lasting ? hold_of(history_) : std::span<StageHistory const>(history_);
    for (auto s = static_cast<std::size_t>(part.data() - history_.data()), end = s + part.size();
         s < end; ++s) {
      for (double const after : history_[s].path.refined_times(1)) {
        times.emplace_back(s, history_[s].start + after);
      }
    }
    if (lasting) std::reverse(times.begin(), times.end());
    std::vector<Sample> band;
    for (auto const& [s, t] : times) {
      auto const& last = band.emplace_back(sample(criterion, s, t));
      if (lasting ? last.moved(1.0) < 0.0 : last.moved(-1.0) >= 0.0) break;
    }
    if (lasting) std::reverse(band.begin(), band.end());
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
        while (high - low > 0.1 * least_error) {
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
  mutable std::vector<double> state_;  ///< memory of sample()
  mutable Criterion::Points points_;
};

/// By how much the run's own release, rounded up, may have moved [s].
inline double step_error(Case const& c, Verdict const& v, TimeError const& release) {
  if (!release.error) return 0.0;
  auto const out = [&](double t) { return rounded_up(t * c.release.safety_factor); };
  double const t = *v.release_time;
  return std::max(out(t + *release.error) - out(t), out(t) - out(t - *release.error));
}

}  // namespace detail
#endif

/// @param history and verdict of the case
/// @param bladder_out when it was told to come out, as for judge [s]; a run that goes by its own
/// release moves with that
/// @throws SolverError
CURE_FUNCTION NumericalError estimate_error(Case const& c, History const& history, Verdict const& v,
                                            std::optional<double> bladder_out = std::nullopt);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION NumericalError estimate_error(Case const& c, History const& history, Verdict const& v,
                                            std::optional<double> bladder_out) {
  detail::ErrorEstimate const estimate(c, history);
  NumericalError e;
  e.time["working"] = estimate.of(working_limit(c), false, v.working_time);
  e.time["gel_first"] = estimate.of(gelled(c, false), false, v.gel_time_first);
  e.time["gel_last"] = estimate.of(gelled(c, true), false, v.gel_time_last);
  if (v.release_state == ReleaseState::gelled_before_held ||
      v.release_state == ReleaseState::no_held_stage ||
      v.release_state == ReleaseState::outside_model) {
    e.time["release"] = {};
  } else {
    e.time["release"] = estimate.of(releasable(c), true, v.release_time);
  }
  if (v.bladder_out) {
    std::optional<double> fit;
    if (v.service_time) fit = v.limiting.at("service").time;
    auto& service = e.time["service"];
    service = estimate.of(serviceable(c), false, fit);
    double const release = bladder_out ? 0.0 : detail::step_error(c, v, e.time["release"]);
    if (service.error && *fit < *v.service_time) {
      // Service waits for the release, unless the resin is later than it seems.
      service.error =
          std::max({detail::least_error, release, *fit + *service.error - *v.service_time});
    } else if (service.error) {
      // A release that moves by a step takes the stage after it with it.
      *service.error += release;
    }
  } else {
    e.time["service"] = {};
  }
  e.peak_temperature = estimate.peak(v);
  return e;
}
#endif

}  // namespace cure::process
