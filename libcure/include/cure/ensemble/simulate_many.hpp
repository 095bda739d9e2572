#pragma once
/// Many cases that differ in some inputs and in their resin: each to its outcome, through the
/// packed solver where the case allows it, through process::predict where it does not (schemes of
/// several states, blends, properties that vary, sections). Sections take the plan's tolerance too.
/// One bad case stops no other.
///
/// Rows that are the same up to their hold (process::same_before_hold) go there once, and then each
/// by itself: those that a thread takes at a time, and a row of several cases. So walls and fills
/// that differ cost their hold only, and numbers stay the same to the bit.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <exception>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/ensemble/instructions.hpp"
#include "cure/ensemble/outcome.hpp"
#include "cure/ensemble/row.hpp"
#include "cure/ensemble/row_plan.hpp"
#include "cure/process/laminate_properties.hpp"
#include "cure/process/predict.hpp"

namespace cure::ensemble {

struct Plan : RowPlan {
  std::vector<Case const*> others = {};  ///< cases beside the base, each with all rows
  process::Tolerance tolerance = row_tolerance;
  Instructions instructions = Instructions::best;
};

/// Whether the packed solver's equations are those of this case.
inline bool packable(Case const& c) {
  return !c.section && packed_scheme(c.resin) &&
         process::laminate_properties(c.resin, c.neat_resin(), c.liner.fibre,
                                      c.liner.fibre_volume_fraction)
             .constant() &&
         !c.bladder.material.varying && !c.pipe.material.varying && !c.ground.material.varying;
}

/// Share of the wall's tolerances that a mass of one temperature is solved to. An error d of alpha
/// that it leaves is a time d/rate in the wall, where resin that was mixed hot cures up to some 30
/// times slower (40 to 16 degC at an activation energy of 110 kJ/mol). Its steps cost next to
/// nothing: it is one cell.
inline constexpr double lumped_share = 1.0 / 32.0;

#if CURE_INSIDE
namespace detail {

class Chunk {
 public:
  explicit Chunk(Plan const& plan) : plan_(plan), solve_(solver(plan.instructions)) {}

  void run(std::size_t begin, std::size_t end, std::vector<Outcome>& outcomes) {
    leaders_.clear();
    rows_ = &first_rows_;
    run_case(*plan_.base, begin, end, outcomes.data());
    auto const known = leaders_;
    rows_ = &other_rows_;
    for (std::size_t k = 0; k < plan_.others.size(); ++k) {
      leaders_ = known;
      run_case(*plan_.others[k], begin, end, outcomes.data() + (k + 1) * plan_.rows);
    }
  }

 private:
  void run_case(Case const& base, std::size_t begin, std::size_t end, Outcome* outcomes) {
    rows_->resize(std::max(rows_->size(), end - begin));
    used_ = 0;
    for (std::size_t i = begin; i < end; ++i) {
      try {
        prepare(base, i, outcomes[i]);
      } catch (numerics::Stopped const&) {
        throw;
      } catch (std::exception const& e) {
        outcomes[i] = Outcome{};
        outcomes[i].failure = e.what();
      }
    }
    auto const stages = process::up_to_release(base).stages;
    auto const before_hold = process::stages_before_hold(base);
    if (before_hold > 0) find_leaders();
    for (std::size_t s = 0; s < before_hold; ++s) run_stage(base, s);
    for (auto& row : rows()) row.share_start();
    for (std::size_t s = before_hold; s < stages.size(); ++s) run_stage(base, s);
    for (auto& row : rows()) conclude(row);
    watch_row();
  }

  void prepare(Case const& base, std::size_t i, Outcome& outcome) {
    // Rows are used again, chunk after chunk, so that what they hold keeps its memory.
    auto& row = (*rows_)[used_];
    Case& c = row.c;
    make_row(plan_, base, i, c);
    if (!packable(c)) {
      c = process::up_to_release(std::move(c));  // nobody asks about the time after it here
      if (c.section) c.discretisation.tolerance = plan_.tolerance;
      outcome = outcome_of(process::predict_times(c), process::point_count(c.discretisation.liner));
      return;
    }
    ++used_;
    row.outcome = &outcome;
    auto const needs = process::release_needs(c);
    row.listener.emplace(c, needs, outcome);
    row.carried.emplace(c);
    row.happened = 0;
    row.leader = nullptr;
    row.followed = false;
    row.rate = rate_constants(c, needs, c.initial.resin);
    outcome.peak_temperature = row.c.initial.resin;
  }

  /// Rows that reach their hold as one before them does.
  void find_leaders() {
    for (auto& row : rows()) {
      auto const found = std::find_if(leaders_.begin(), leaders_.end(),
                                      [&](Row const* other) { return row.starts_as(*other); });
      if (found == leaders_.end()) {
        leaders_.push_back(&row);
        row.followed = !plan_.others.empty();
      } else {
        row.leader = *found;
        row.leader->followed = true;
      }
    }
  }

  /// One stage of all rows that are still on their way by themselves.
  void run_stage(Case const& base, std::size_t s) {
    bool const held = std::holds_alternative<process::Held>(base.stages[s]);
    std::vector<Row*> waiting;
    for (auto& row : rows()) {
      if (!row.outcome->failure.empty() || row.leader != nullptr) continue;
      std::visit([&row](auto const& stage) { row.arrays.set(row.c, *row.carried, stage); },
                 row.c.stages[s]);
      double const start = row.carried->clock;
      row.listener->enter(start, row.arrays, held);
      if (held && std::isnan(row.outcome->held_from)) row.outcome->held_from = start;
      waiting.push_back(&row);
    }
    solve(waiting, true, [s](Row& row, LaneJob const& job, PackedScheme) {
      if (job.status != LaneStatus::finished) {
        row.outcome->failure = job.status == LaneStatus::too_many_steps
                                   ? "too many steps"
                                   : "the step size fell to nothing";
        return;
      }
      // A wall says anew what its points may do.
      row.happened = row.arrays.lumped() ? job.happened & ~became_releasable : job.happened;
      row.outcome->steps += job.steps;
      row.outcome->rejections += job.rejections;
      row.outcome->peak_temperature = job.peak_T;
      if (job.peak_time >= 0.0) row.outcome->peak_time = row.carried->clock + job.peak_time;
      row.arrays.carry_into(*row.carried);
      row.carried->pass(row.c.stages[s], row.arrays.duration);
    });
  }

  /// Runs the packed solver over the rows' arrays, scheme by scheme.
  /// @param heard whether the rows' listeners are told what happens
  template <class Done>
  void solve(std::vector<Row*> waiting, bool heard, Done const& done) {
    std::vector<LaneJob> jobs;
    std::vector<Row*> taken;
    while (!waiting.empty()) {
      auto const scheme = *packed_scheme(waiting.front()->c.resin);
      jobs.clear();
      taken.clear();
      for (auto* row : waiting) {
        if (!(*packed_scheme(row->c.resin) == scheme)) continue;
        auto& job = jobs.emplace_back();
        row->arrays.describe(job);
        job.rate = &row->rate;
        job.happened = row->happened;
        job.peak_T = row->outcome->peak_temperature;
        job.peak_time = -1.0;
        if (heard) job.event = &Listener::on_step;
        job.context = &*row->listener;
        taken.push_back(row);
      }
      std::erase_if(waiting, [&](Row* row) { return *packed_scheme(row->c.resin) == scheme; });
      auto const& a = taken.front()->arrays;
      // Single precision knows a rate to some 2e-6: a finer tolerance of cure measures its noise.
      double const share =
          a.lumped() ? std::min(1.0, std::max(lumped_share, 2e-6 / plan_.tolerance.alpha)) : 1.0;
      JobShape const shape{.cells = a.cells(),
                           .first_reacting = a.first_reacting,
                           .reacting = a.S.size(),
                           .law = scheme.law,
                           .form = scheme.form,
                           .diffusion = scheme.diffusion,
                           .tolerance = {.temperature = plan_.tolerance.temperature * share,
                                         .alpha = plan_.tolerance.alpha * share},
                           .stop = &numerics::stop_asked};
      workspace_.resize(std::max(workspace_.size(), workspace_size(a.cells(), a.S.size())));
      solve_(shape, jobs.data(), jobs.size(), workspace_.data());
      for (auto const& job : jobs) {
        if (job.status == LaneStatus::waiting) throw numerics::Stopped();
      }
      for (std::size_t i = 0; i < jobs.size(); ++i) done(*taken[i], jobs[i], scheme);
    }
  }

  static void conclude(Row& row) {
    auto& o = *row.outcome;
    if (!o.failure.empty() || std::isnan(o.held_from)) return;
    using process::ReleaseState;
    o.release_state = process::release_state(
        row.c, o.gel_time_first < o.held_from,
        [&] {
          return std::isnan(o.release_time) ? std::nullopt
                                            : std::optional(row.listener->glassy_by());
        },
        [] { return ReleaseState::not_in_hold; });  // until watch_row has seen more
    if (o.release_state != ReleaseState::reached) o.release_time = never;
    if (o.release_state == ReleaseState::gelled_before_held) o.release_point = -1;
  }

  /// Of those that were not released: would another week at the deciding point's temperature do, or
  /// has it stopped? (See process::unreleased_state.)
  void watch_row() {
    std::vector<Row*> unreleased;
    for (auto& row : rows()) {
      auto& o = *row.outcome;
      if (!o.failure.empty() || o.release_state != process::ReleaseState::not_in_hold) continue;
      auto const& liner = row.carried->liner;
      auto const& cure = row.carried->cure;
      auto const at = [&](std::size_t p) {
        auto const j = process::point_cells(p, liner.size());
        return process::PointValues{process::carried_on(liner[j.at], liner[j.behind]),
                                    process::cure_carried_on(cure[j.at], cure[j.behind])};
      };
      auto const decides =
          row.listener->release().decide(process::point_count(liner.size()), at).second;
      o.release_point = static_cast<std::int32_t>(decides);
      auto const [T, alpha] = at(decides);
      row.arrays.set_isothermal(T, alpha, process::look_ahead);
      row.alpha_at_end = alpha;
      row.happened = ~0u;
      unreleased.push_back(&row);
    }
    solve(unreleased, false, [](Row& row, LaneJob const& job, PackedScheme) {
      row.outcome->release_state = process::unreleased_state(
          row.c, row.listener->release(), job.T[0], row.alpha_at_end, job.alpha[0]);
    });
  }

  Plan const& plan_;
  Solve solve_;
  std::span<Row> rows() { return std::span(*rows_).first(used_); }

  std::vector<Row> first_rows_, other_rows_;  ///< of the base, which others follow, and of others
  std::vector<Row>* rows_ = &first_rows_;     ///< those in work
  std::size_t used_ = 0;                      ///< of them
  std::vector<Row*> leaders_;                 ///< rows that went to their hold by themselves
  std::vector<double> workspace_;
};

}  // namespace detail
#endif

/// Rows that one thread takes at a time: enough to keep all lanes busy, few enough that the last
/// thread is not long alone.
inline constexpr std::size_t chunk_rows = 64;

/// All outcomes, in the order of the rows, those of the base before those of each other case; the
/// same to the bit for any number of threads and whatever other rows and cases there are.
/// @throws InputError for a plan that makes no sense; a row that fails says so in its outcome
CURE_FUNCTION std::vector<Outcome> simulate_many(Plan const& plan);
#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION std::vector<Outcome> simulate_many(Plan const& plan) {
  detail::check_plan(plan);
  process::detail::check("temperature_tolerance", plan.tolerance.temperature,
                         process::limits::positive, " K");
  process::detail::check("alpha_tolerance", plan.tolerance.alpha, process::limits::positive);
  bool packed = packable(*plan.base);
  for (auto const* other : plan.others) {
    process::validate(*other);
    packed = packed && packable(*other);
  }
  std::vector<Outcome> outcomes(plan.rows * (1 + plan.others.size()));
  std::size_t const chunk_size = packed ? chunk_rows : chunk_rows_predicted;
  detail::in_chunks(plan.rows, plan.threads, chunk_size, [&] {
    return [&, chunk = detail::Chunk(plan)](std::size_t begin, std::size_t end) mutable {
      chunk.run(begin, end, outcomes);
    };
  });
  return outcomes;
}
#endif

}  // namespace cure::ensemble
