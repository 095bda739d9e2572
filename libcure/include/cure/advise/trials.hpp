#pragma once
/// Trial runs of a job: with changes, and with a wet-out that goes on until the resin is workable
/// no longer.
///
/// Nothing that happens before the liner is held depends on what comes after. So one run without a
/// held stage tells the latest moment at which the liner may be held and is still workable.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <utility>
#include <variant>
#include <vector>

#include "cure/advise/changes.hpp"
#include "cure/advise/levers.hpp"
#include "cure/advise/needs.hpp"
#include "cure/advise/outcome.hpp"
#include "cure/advise/variants.hpp"
#include "cure/ensemble/service_times.hpp"
#include "cure/ensemble/simulate_many.hpp"
#include "cure/uncertain/samples.hpp"

namespace cure::advise {

/// A hold is advised in steps of this, with one in reserve: a choice of this project [s].
inline constexpr double hold_step = 1800.0;
/// One job, what is needed of it, and runs of it with changes. Runs are kept, so asking twice costs
/// once.
class Trials {
 public:
  /// Runs nothing yet. @param job, options must outlive the trials
  /// @throws InputError for options that contradict each other or the case
  Trials(Job const& job, Options const& options)
      : job_(job),
        options_(options),
        needs_(needs_of(job.planned, options)),
        variants_(job, needs_, options.reach) {
    check(options.reach);
    process::validate(job.planned);
    factor_ = options.stated ? 1.0 : job.planned.release.safety_factor;
  }
  Trials(Job const&&, Options const&) = delete;
  Trials(Job const&, Options const&&) = delete;

  [[nodiscard]] Job const& job() const { return job_; }
  [[nodiscard]] Needs const& needs() const { return needs_; }
  [[nodiscard]] Reach const& reach() const { return options_.reach; }
  [[nodiscard]] bool ranged() const { return options_.stated.has_value(); }
  [[nodiscard]] Variants const& variants() const { return variants_; }
  [[nodiscard]] Case changed(Changes const& x) const { return advise::changed(job_, x); }

  /// Whether the constants of the resin are sampled too, of all parts of a blend.
  [[nodiscard]] bool has_constants(Case const& c) const {
    return options_.stated && options_.stated->constants && c.uncertain_resin.known() &&
           c.uncertain_resin.whole;
  }

  /// When the bladder may come out by the times of one simulation, up to 5 min [s].
  [[nodiscard]] std::optional<double> release_of(process::Verdict const& v) const {
    if (!v.release_time) return std::nullopt;
    return process::rounded_up(factor_ * *v.release_time);
  }

  /// Latest moment at which the liner may be held and is workable [s]; nothing: not in the longest
  /// wet-out.
  std::optional<double> latest(Changes const& x) {
    return kept(latest_, variants_.before_held(x), [&](Changes const& before) {
      return process::predict(variants_.opened(before)).verdict.working_time;
    });
  }

  /// One run with changes, held as long as may be; without conservative sides.
  Outcome const& trial(Changes const& x) {
    return kept(trials_, x, [&](Changes const&) {
      auto const c = variants_.held_longest(x);
      auto v = process::predict(c).verdict;
      auto d = decide::decide(c, v, std::nullopt, 0.0);
      auto const release = release_of(v);
      return judged({std::move(v), std::move(d), {}, {}, {}, 0}, release,
                    variants_.release_target(x), x);
    });
  }

  /// What decide::answer says of the changed job, held against the needs.
  Outcome const& in_full(Changes const& x) {
    return kept(full_, x, [&](Changes const&) { return answered(x); });
  }

  /// Hold up to the release, up to 5 min [s]; nothing: never. By the conservative side where it is
  /// known and does release.
  std::optional<double> needed_hold(Changes const& x) {
    auto release = release_of(trial(x).verdict);
    if (auto const* s = sides(x); s != nullptr && s->release) {
      release = std::max(*s->release, release.value_or(0.0));
    }
    if (!release) return std::nullopt;
    return process::rounded_up(*release - variants_.held_from(x));
  }

  /// A hold to tell a crew [s]: half hours, one of them in reserve; nothing: too long, or past the
  /// deadline.
  [[nodiscard]] std::optional<double> advised_hold(Changes const& x, double needed) const {
    double const hold = (std::ceil(needed / hold_step - 1e-9) + 1.0) * hold_step;
    bool const late = needs_.release_by && variants_.held_from(x) + hold > *needs_.release_by;
    if (late || hold > variants_.longest_hold()) return std::nullopt;
    return hold;
  }

  /// The changes with the hold that they need.
  /// @param x without a hold. @param missed what they may become when a target is missed; the hold
  /// is long enough for that too
  Changes with_hold(Changes x, std::vector<Changes> const& missed = {}) {
    double needed = needed_hold(x).value_or(never);
    for (auto const& m : missed) needed = std::max(needed, needed_hold(m).value_or(never));
    if (variants_.planned_hold() < needed && needed < never) x.hold = advised_hold(x, needed);
    return x;
  }

  // What advise::look asks

  [[nodiscard]] bool meets(Changes const& x, double time, Need need) const {
    return need == Need::working ? time >= variants_.working_target(x)
                                 : time <= variants_.release_target(x);
  }

  /// Time by which the middle values meet a need [s]; negative when they do not, or harm otherwise.
  double room(Changes const& x, Need need) {
    constexpr double just_not = -0.6;
    if (need == Need::release) {
      auto const& o = trial(x);
      if (!o.verdict.release_time) return -options_.reach.longest_hold;
      // It runs smoothly where the release goes by 5 min.
      double const left = variants_.release_target(x) - factor_ * *o.verdict.release_time;
      bool const bad = o.unmet.contains(Need::hot) || o.unmet.contains(Need::model);
      return bad ? std::min(left, just_not) : left;
    }
    auto const last = latest(x);  // costs a tenth of the whole job
    double const left = last ? *last - variants_.working_target(x) : variants_.open();
    if (left < 0.0) return left;
    auto const& unmet = trial(x).unmet;
    bool const bad =
        std::any_of(unmet.begin(), unmet.end(), [](Need other) { return other != Need::release; });
    return bad ? std::min(left, just_not) : left;
  }

  /// Whether the conservative side meets the need too; true for a point estimate.
  bool in_time(Changes const& x, Need need) {
    if (!ranged()) return true;
    // A tenth of all sides.
    if (need == Need::working) return latest_low(x).value_or(never) >= variants_.working_target(x);
    return sides(x)->release.value_or(never) <= variants_.release_target(x);
  }

  /// Whether the conservative side stays below the limits of resin, bladder and pipe; true for a
  /// point estimate.
  bool cool(Changes const& x) {
    auto const* s = sides(x);
    return s == nullptr || s->peak_temperature.value_or(never) <= decide::lowest_limit(changed(x));
  }

  /// Latest moment in place, or release, at each value of a lever [s]; infinite is never.
  std::vector<double> scan(Changes const& base, Lever const& lever, Need need) {
    auto const values = lever.values();
    if (lever.input == nullptr) return scan_predicted(base, lever, values, need);
    auto const c = need == Need::working ? variants_.opened(variants_.before_held(base))
                                         : variants_.held_longest(base);
    std::vector<double> offsets;
    for (double const value : values) offsets.push_back(value - lever.start);
    ensemble::Plan plan;
    plan.base = &c;
    plan.inputs = {lever.input};
    plan.values = offsets;
    plan.rows = offsets.size();
    plan.threads = options_.threads;
    std::vector<double> times;
    for (auto const& o : ensemble::simulate_many(plan)) {
      double const t = need == Need::working ? o.working_time : factor_ * o.release_time;
      times.push_back(std::isnan(t) ? never : t);
    }
    return times;
  }

 private:
  static constexpr double never = std::numeric_limits<double>::infinity();

  template <class T, class Run>
  static T const& kept(std::map<Changes, T>& runs, Changes const& x, Run const& run) {
    auto const found = runs.find(x);
    return found != runs.end() ? found->second : runs.emplace(x, run(x)).first->second;
  }

  /// The conservative sides of samples of a case, whose working time counts as its latest moment.
  Sides sides_of(Case const& c, Changes const& x) {
    auto const count = options_.samples.value_or(decide::sample_count(c).first);
    auto& draws = draws_[{x.hardener, count}];
    if (!draws) {
      draws =
          std::make_shared<uncertain::Draws const>(c, *options_.stated, count, 0, options_.threads);
    }
    uncertain::Samples const samples(c, draws);
    auto const* own = c.section ? &trial(x).verdict : nullptr;
    auto const r = decide::ranges_of(c, samples.searched(own, options_.threads), needs_.held_from);
    auto const finite = [](double t) { return std::isfinite(t) ? std::optional(t) : std::nullopt; };
    auto const release = finite(r.release_side.bound);
    auto const low = finite(r.working_side.bound);
    return {low, low, release ? std::optional(process::rounded_up(*release)) : std::nullopt,
            finite(r.peak_temperature.p95)};
  }

  /// Those of the changed case; nothing for a point estimate.
  Sides const* sides(Changes x) {
    if (!ranged()) return nullptr;
    x.hold.reset();
    return &kept(sides_, x, [&](Changes const&) {
      auto found = sides_of(variants_.held_longest(x), x);
      found.latest_in_place = latest_low(x);
      return found;
    });
  }

  /// The conservative side of latest().
  std::optional<double> latest_low(Changes const& x) {
    return kept(latest_low_, variants_.before_held(x), [&](Changes const& before) {
      return sides_of(variants_.opened(before), before).working;
    });
  }

  Outcome answered(Changes const& x) {
    auto const c = changed(x);
    auto a = decide::answer(c, {options_.stated, options_.samples, true, options_.threads});
    double const end = process::planned_hold(c)->second;
    double const by = needs_.release_by ? std::min(*needs_.release_by, end) : end;
    auto release = a.decision.release_time;  // nothing also of a job that something else stops
    Outcome o{std::move(a.prediction.verdict), std::move(a.decision), {}, {}, {}, 0};
    if (!a.ranges) {
      if (!release) release = release_of(o.verdict);
      return judged(std::move(o), release, by, x);
    }
    double const bound = a.ranges->release_side.bound, peak = a.ranges->peak_temperature.p95;
    if (!release && std::isfinite(bound)) release = process::rounded_up(bound);
    o.samples = a.ranges->samples;
    o.sides = {latest_low(x), o.decision.working_until, release,
               std::isfinite(peak) ? std::optional(peak) : std::nullopt};
    return judged(std::move(o), release, by, x);
  }

  /// Held against the needs.
  Outcome judged(Outcome o, std::optional<double> release, double by, Changes const& x) {
    o.latest_in_place = latest(x);
    o.unmet = unmet_by(o.decision);
    double earliest = o.latest_in_place.value_or(never);
    if (o.sides) earliest = std::min(earliest, o.sides->latest_in_place.value_or(never));
    if (earliest < variants_.working_target(x)) o.unmet.insert(Need::working);
    if (release.value_or(never) > by) o.unmet.insert(Need::release);
    return o;
  }

  /// The same as scan() for changes that are no offset of an input.
  std::vector<double> scan_predicted(Changes const& base, Lever const& lever,
                                     std::vector<double> const& values, Need need) {
    std::vector<double> times(values.size(), never);
    if (need == Need::working) {
      for (std::size_t i = 0; i < values.size(); ++i) {
        times[i] = latest(lever.turned(base, values[i])).value_or(never);
      }
      return times;
    }
    ensemble::detail::in_chunks(values.size(), options_.threads, 1, [&] {
      return [&](std::size_t begin, std::size_t) {
        auto const c = variants_.held_longest(lever.turned(base, values[begin]));
        try {
          times[begin] = release_of(process::predict(c).verdict).value_or(never);
        } catch (SolverError const&) {  // one value that cannot be run ends no search
        } catch (InputError const&) {
        }
      };
    });
    return times;
  }

  Job const& job_;
  Options const& options_;
  Needs needs_;
  Variants variants_;
  double factor_ = 1.0;  ///< on the time of the criterion: ranges take the place of a safety factor
  std::map<Changes, std::optional<double>> latest_, latest_low_;
  std::map<Changes, Outcome> trials_, full_;
  std::map<Changes, Sides> sides_;
  std::map<std::pair<std::optional<std::size_t>, std::size_t>,
           std::shared_ptr<uncertain::Draws const>>
      draws_;
};

}  // namespace cure::advise
