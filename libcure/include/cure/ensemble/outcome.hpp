#pragma once
/// What an ensemble keeps of each case, and how it reads the times off the solver's steps. All
/// times count from mixing.

#include <Eigen/Core>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/ensemble/stage_arrays.hpp"
#include "cure/numerics/events.hpp"
#include "cure/numerics/hermite.hpp"
#include "cure/numerics/maps.hpp"
#include "cure/process/criteria.hpp"
#include "cure/process/verdict.hpp"

namespace cure::ensemble {

inline constexpr double never = std::numeric_limits<double>::quiet_NaN();

struct Outcome {
  double working_time = never;  ///< [s], like all times; NaN: does not happen
  double gel_time_first = never, gel_time_last = never;
  double held_from = never;
  double release_time = never;
  double peak_temperature = 0.0;  ///< of the resin [K]
  double peak_time = 0.0;
  process::ReleaseState release_state = process::ReleaseState::no_held_stage;
  /// Deciding resin points, inner to outer face; -1: none, or the mixed mass.
  std::int32_t working_point = -1, release_point = -1;
  std::size_t steps = 0, rejections = 0;
  std::string failure;  ///< why there is no outcome; empty for a case that ran
};

/// An outcome as quantiles take it: what never happens is infinite, and a row that failed counts to
/// the conservative side: no working time, gelled at once, never released, as hot as can be.
struct ConservativeOutcome {
  double working_time, gel_time_first, gel_time_last, release_time;  ///< [s]
  double peak_temperature;                                           ///< [K]
};

inline ConservativeOutcome conservative(Outcome const& o) {
  constexpr double infinite = std::numeric_limits<double>::infinity();
  if (!o.failure.empty()) return {0.0, 0.0, infinite, infinite, infinite};
  auto const or_never = [](double time) { return std::isnan(time) ? infinite : time; };
  // Whatever the engine left in the release time of a row that is not released.
  bool const reached = o.release_state == process::ReleaseState::reached;
  return {or_never(o.working_time), or_never(o.gel_time_first), or_never(o.gel_time_last),
          reached ? or_never(o.release_time) : infinite, o.peak_temperature};
}

/// One number of all outcomes where it stands, such as `column(outcomes, &Outcome::release_time)`.
template <class T>
using Column =
    Eigen::Map<Eigen::Array<T, Eigen::Dynamic, 1> const, Eigen::Unaligned, Eigen::InnerStride<>>;
template <class T>
Column<T> column(std::span<Outcome const> outcomes, T Outcome::*number) {
  static_assert(sizeof(Outcome) % sizeof(T) == 0);
  return {outcomes.empty() ? nullptr : &(outcomes.front().*number),
          numerics::index(outcomes.size()), Eigen::InnerStride<>(sizeof(Outcome) / sizeof(T))};
}
template <class T>
Column<T> column(std::vector<Outcome> const&&, T Outcome::*) = delete;

/// The same from a full prediction, whose points are known by the names of their places.
/// @param points resin points from the inner to the outer face
inline Outcome outcome_of(process::Verdict const& v, std::size_t points) {
  Outcome o;
  o.working_time = v.working_time.value_or(never);
  o.gel_time_first = v.gel_time_first.value_or(never);
  o.gel_time_last = v.gel_time_last.value_or(never);
  o.held_from = v.held_from.value_or(never);
  o.release_time = v.release_time.value_or(never);
  o.peak_temperature = v.peak.temperature;
  o.peak_time = v.peak.time;
  o.release_state = v.release_state;
  o.steps = v.steps;
  o.rejections = v.rejections;
  auto const point = [&](char const* name) -> std::int32_t {
    auto const found = v.limiting.find(name);
    if (found == v.limiting.end() || found->second.layer != "liner") return -1;
    auto const is = [&](process::Position p) { return found->second.position == process::name(p); };
    auto const last = static_cast<std::int32_t>(points) - 1;
    return is(process::Position::inner_face)   ? 0
           : is(process::Position::outer_face) ? last
                                               : last / 2;
  };
  o.working_point = point("working");
  o.release_point = point("release");
  return o;
}

/// Listens to the solver for one case and finds the times on the dense output of the steps it is
/// told of.
class Listener {
 public:
  Listener(process::Case const& c, process::ReleaseNeeds const& needs, Outcome& outcome)
      : outcome_(&outcome),
        working_(process::working_limit(c)),
        first_gelled_(process::gelled(c, false)),
        all_gelled_(process::gelled(c, true)),
        release_(process::releasable(c, needs)),
        glassiness_(process::glassiness(c)) {}
  Listener(process::Case const&&, process::ReleaseNeeds const&, Outcome&) = delete;

  /// Before a stage that starts at `start` [s]; the wall must outlive it. What may be released
  /// while it is not held may be so from when it is.
  void enter(double start, StageArrays const& wall, bool held) {
    if (held && memory_.met_unheld && !std::isnan(outcome_->release_time))
      outcome_->release_time = start;
    memory_.met_unheld = memory_.met_unheld && !held;
    held_ = held;
    start_ = start;
    wall_ = &wall;
    C_ = wall.C();
    G_ = wall.G();
  }

  /// What it knows beside the outcome when a stage ends.
  struct Memory {
    bool met_unheld = false;
    double glassy_by = 0.0;  ///< at the release that was found last [K]
  };
  [[nodiscard]] Memory const& memory() const { return memory_; }
  void remember(Memory const& memory) { memory_ = memory; }

  [[nodiscard]] process::Criterion const& release() const { return release_; }

  /// Largest Tg - T of any point at the release that was found last [K].
  [[nodiscard]] double glassy_by() const { return memory_.glassy_by; }

  /// Event function of a LaneJob; `context` is the listener.
  static void on_step(void* context, StepView const& step) {
    static_cast<Listener*>(context)->take(step);
  }

 private:
  static constexpr double round_off = 1e-5;  ///< of a temperature in a lane [K]

  void take(StepView const& s) {
    if ((s.happened & worked_out) != 0) {
      auto const [t, point] = decided(s, working_);
      outcome_->working_time = start_ + t;
      outcome_->working_point = wall_->lumped() ? -1 : static_cast<std::int32_t>(point);
    }
    if ((s.happened & gelled_first) != 0) {
      outcome_->gel_time_first = start_ + decided(s, first_gelled_).t;
    }
    if ((s.happened & gelled_last) != 0) {
      outcome_->gel_time_last = start_ + decided(s, all_gelled_).t;
    }
    if ((s.happened & no_longer_releasable) != 0) outcome_->release_time = never;
    if ((s.happened & became_releasable) != 0 && !wall_->lumped()) {
      auto const [t, point] = decided(s, release_);
      outcome_->release_time = start_ + t;
      outcome_->release_point = static_cast<std::int32_t>(point);
      memory_.met_unheld = !held_;
      memory_.glassy_by = decide(s, glassiness_, t).first;
    }
  }

  using Values = process::PointValues;
  struct Found {
    double t;
    std::size_t point;
  };

  /// Temperature of a cell within a step. Between stiff cells a temperature's round-off makes a
  /// slope of some 1e-4 K/s, and a step near the end of cure takes hours: where that could outweigh
  /// what the temperature moved by, slopes say nothing and it goes in a straight line.
  [[nodiscard]] double temperature(StepView const& s, numerics::HermiteWeights const& w,
                                   std::size_t j) const {
    double const h = s.t1 - s.t0, moved = s.T1[j] - s.T0[j];
    auto const i = wall_->first_reacting + j;
    double const links = (i > 0 ? G_[i - 1] : 0.0) + (i < G_.size() ? G_[i] : 0.0);
    if (round_off * links * h < std::abs(moved) * C_[i]) {
      return w(s.T0[j], s.dT0[j], s.T1[j], s.dT1[j]);
    }
    return w(s.T0[j], moved / h, s.T1[j], moved / h);
  }

  /// At a resin point, by the weights of a time.
  [[nodiscard]] Values values(StepView const& s, numerics::HermiteWeights const& w,
                              std::size_t point) const {
    auto const cell = [&](std::size_t j) {
      return Values{temperature(s, w, j), w(s.a0[j], s.da0[j], s.a1[j], s.da1[j])};
    };
    auto const j = process::point_cells(point, s.cells);
    auto const at = cell(j.at);
    if (j.at == j.behind) return at;
    auto const behind = cell(j.behind);
    return {process::carried_on(at.T, behind.T), process::cure_carried_on(at.alpha, behind.alpha)};
  }

  /// Distance and number of the point that decides at a time.
  [[nodiscard]] std::pair<double, std::size_t> decide(StepView const& s,
                                                      process::Criterion const& criterion,
                                                      double t) const {
    auto const w = numerics::hermite_weights(s.t0, s.t1, t);
    return criterion.decide(process::point_count(s.cells),
                            [&](std::size_t p) { return values(s, w, p); });
  }

  /// When a criterion is met in a step, and by which point. Each point's own course is searched:
  /// first of the one that is farthest on at the end, or farthest behind at the start where all
  /// must pass; then of the one that decides at the time found, until that is the same.
  [[nodiscard]] Found decided(StepView const& s, process::Criterion const& criterion) const {
    bool const all = criterion.every_point;
    Found found{all ? s.t0 : s.t1, process::point_count(s.cells)};
    for (std::size_t tries = 0; tries <= process::point_count(s.cells); ++tries) {
      auto const [g, point] = decide(s, criterion, found.t);
      if (tries > 0 && (point == found.point || !(all ? g < 0.0 : g > 0.0))) break;
      double const t = numerics::turning_time(
          [&, point = point](double at) {
            auto const v = values(s, numerics::hermite_weights(s.t0, s.t1, at), point);
            return criterion.point(v.T, v.alpha);
          },
          s.t0, s.t1);
      if (tries > 0 && !(all ? t > found.t : t < found.t)) break;
      found = {t, point};
      if (all ? !(t < s.t1) : !(t > s.t0)) break;
    }
    return found;
  }

  Outcome* outcome_;
  process::Criterion working_, first_gelled_, all_gelled_, release_, glassiness_;
  double start_ = 0.0;
  bool held_ = false;
  Memory memory_;
  StageArrays const* wall_ = nullptr;
  std::span<double const> C_, G_;  ///< of it
};

}  // namespace cure::ensemble
