#pragma once
/// Goes through what can be changed in a job, and puts together what does it.
///
///     auto const advice = cure::advise::advise({job, job.resin.id, {}});
///
/// Every change is computed in full, as decide::answer does, and told with all its times.

#include <algorithm>
#include <cstddef>
#include <optional>
#include <set>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "cure/advise/advice.hpp"
#include "cure/advise/words.hpp"
#include "cure/compiled.hpp"

#if CURE_INSIDE
#include "cure/advise/search.hpp"
#include "cure/advise/steps.hpp"
#include "cure/advise/trials.hpp"
#endif

namespace cure::advise {

/// What to change so that the liner is in place in time and the bladder comes out in time.
/// @throws InputError, SolverError, Stopped
CURE_FUNCTION Advice advise(Job const& job, Options const& options = {});

#if CURE_DEFINES(ADVISE)
namespace detail {

inline double or_last(std::optional<double> t) { return t.value_or(decide::detail::infinite); }

class Advisor {
 public:
  explicit Advisor(Trials& trials) : trials_(trials) {}

  Advice run() {
    auto const& planned = trials_.in_full({});
    bool const only_model = planned.unmet == Unmet{Need::model};
    bool const release = planned.unmet.contains(Need::release);
    // What the model does not cover may be its cold end.
    if ((release || only_model) && !sets_too_soon(planned)) earlier_release();
    if (planned.unmet.contains(Need::working) || planned.unmet.contains(Need::hot)) {
      more_working_time();
    }
    other_resins(planned);
    a_.planned = planned;
    a_.title = trials_.job().planned.title;
    a_.needs = trials_.needs();
    a_.reach = trials_.reach();
    a_.longest_wet_out = trials_.variants().open();
    a_.cautions = process::usual_cautions(planned.verdict);
    sort();
    a_.headline = headline(a_);
    return std::move(a_);
  }

 private:
  static bool sets_too_soon(Outcome const& o) {
    return o.verdict.release_state == process::ReleaseState::gelled_before_held;
  }

  /// Ice the resin, cool the packer, be quicker, do otherwise with resin and wet liner; two
  /// together where one is not enough.
  void more_working_time() {
    auto const& c = trials_.job().planned;
    auto const ice = resin_lever(c, trials_.reach()), cool = packer_lever(c);
    auto const procedures = helpful(c);
    bool done = turn({}, ice, Need::working);
    done = turn({}, cool, Need::working) || done;
    for (auto const& step : procedures) done = set({step}) || done;
    if (!trials_.needs().working_stated) {
      done = turn({}, in_place_lever(c), Need::working, true) || done;
    }
    bool const alone = done;
    with_first(procedures, done, [&](Steps const& some, bool quietly) {
      done = some.size() > 1 && set(some, quietly);
      done = turn(some, cool, Need::working, quietly) || done;
      done = turn(some, ice, Need::working, quietly) || done;
      return done;
    });
    auto const cooler = cool.values();
    if (cooler.empty() || alone) return;
    auto const cooled = turned(cool, cooler.back());
    done = turn({cooled}, ice, Need::working) || done;
    with_first(procedures, done, [&](Steps const& some, bool quietly) {
      return turn(and_then(some, cooled), ice, Need::working, quietly);
    });
  }

  /// What can be done otherwise, the most helpful first, where it brings more than a minute or
  /// cools the hottest resin: less than that is noise on site.
  Steps helpful(Case const& c) {
    std::vector<std::pair<double, Step>> found;  // by the latest moment in place
    auto const latest = [&](Changes const& x) { return or_last(trials_.latest(x)); };
    auto const hottest = [&](Changes const& x) {
      auto const& v = trials_.trial(x).verdict;
      return std::max(v.peak.temperature, v.leftover ? v.leftover->peak_temperature : 0.0);
    };
    for (auto const& procedure : procedures) {
      if (!procedure.helps(c)) continue;
      Step step{procedure.kind, procedure.words, {}, {}};
      step.changes.procedures = {procedure.kind};
      bool const later = latest(step.changes) > latest({}) + 60.0;
      bool const cooler = hottest(step.changes) < hottest({}) - 1.0;
      if (later || cooler) found.emplace_back(latest(step.changes), std::move(step));
    }
    std::stable_sort(found.begin(), found.end(),
                     [](auto const& a, auto const& b) { return a.first > b.first; });
    Steps list;
    for (auto& entry : found) list.push_back(std::move(entry.second));
    return list;
  }

  /// A warmer fill, or a longer hold.
  void earlier_release() {
    turn({}, fill_lever(trials_.job().planned, trials_.reach()), Need::release);
    auto const needed = trials_.needed_hold({});
    double const planned = trials_.variants().planned_hold();
    // The hold as planned may be long enough, only the deadline is not.
    if (needed && *needed <= planned) return;
    std::pair const searched{planned, trials_.variants().longest_hold()};
    auto const hold = needed ? trials_.advised_hold({}, *needed) : std::nullopt;
    auto const& verdict = trials_.trial({}).verdict;
    if (!hold) {
      bool const stopped = verdict.release_state == process::ReleaseState::vitrified;
      a_.no_values.push_back({{Kind::hold},
                              "a longer hold",
                              searched,
                              needed ? wait_for(needed) + " are needed, and half an hour in reserve"
                              : stopped ? "the resin vitrifies first"
                                        : "not cured by then"});
      return;
    }
    Changes x;
    x.hold = hold;
    auto middle = trials_.release_of(verdict);
    if (middle) *middle -= trials_.needs().held_from;
    a_.proposals.push_back({{Kind::hold},
                            hold_words(x, planned),
                            x,
                            hold,
                            middle ? trials_.advised_hold({}, *middle) : std::nullopt,
                            middle,
                            {},
                            searched,
                            trials_.in_full(x),
                            {}});
  }

  void other_resins(Outcome const& planned) {
    auto const& job = trials_.job();
    auto const row = [this](std::string const& name, Case const& c, bool own, Outcome const& o) {
      bool const exact = trials_.ranged() && !trials_.has_constants(c);
      a_.hardeners.push_back({name, c.resin.title, c.resin.estimated, own, exact, o});
    };
    row(job.resin, job.planned, true, planned);
    for (std::size_t i = 0; i < job.others.size(); ++i) {
      auto const& c = job.others[i].job;
      Step step{Kind::hardener, "hardener " + c.resin.id, {}, {}};
      step.changes.hardener = i;
      row(job.others[i].name, c, false, trials_.in_full(step.changes));
      if (planned.unmet.empty()) continue;
      auto const outcome = trials_.in_full(trials_.with_hold(step.changes));
      if (outcome.unmet.empty()) {
        set({step});
      } else if (outcome.unmet == Unmet{Need::release}) {
        turn({step}, fill_lever(c, trials_.reach()), Need::release, true);
      } else if (sets_too_soon(outcome) || !outcome.unmet.contains(Need::release)) {
        turn({step}, resin_lever(c, trials_.reach()), Need::working, true) ||
            turn({step}, packer_lever(c), Need::working, true);
      }
    }
  }

  /// Changes that are made or not, without a value.
  /// @param quietly do not list them when they do not do it
  bool set(Steps const& steps, bool quietly = false) {
    auto [kind, words] = named(steps);
    auto const changes = trials_.with_hold(merged(steps));
    auto const& outcome = trials_.in_full(changes);
    if (outcome.unmet.contains(Need::working) || outcome.unmet.contains(Need::hot)) {
      if (!quietly) a_.no_values.push_back({kind, joined(words), {}, {}});
      return false;
    }
    words.push_back(hold_words(changes, trials_.variants().planned_hold()));
    a_.proposals.push_back({kind, joined(words), changes, {}, {}, {}, {}, {}, outcome, {}});
    return outcome.unmet.empty();
  }

  /// Looks for the value of a lever; whether that, or a warmer fill with it, meets every need.
  /// @param before what is changed already. @param quietly do not list it when no value does it
  bool turn(Steps const& before, Lever const& lever, Need need, bool quietly = false) {
    auto all = named(before);
    auto& kind = all.kind;
    auto& words = all.words;
    kind.push_back(lever.kind);
    auto const none = [&](std::optional<std::pair<double, double>> searched, std::string best) {
      words.push_back(lever.name);
      if (!quietly) a_.no_values.push_back({kind, joined(words), searched, std::move(best)});
      return false;
    };
    auto const values = lever.values();
    if (values.empty()) {
      return none({}, "planned at " + lever.shown(lever.start) + ", " + lever.why_end);
    }
    std::pair const searched{values.front(), values.back()};
    // The working time must be there too when what is changed already is missed by a step.
    auto const found = look(trials_, merged(before, need == Need::working), lever, need);
    auto const value = found.value ? found.value : found.harmful;
    if (!value) return none(searched, best_words(found, lever, need));

    auto const steps = and_then(before, turned(lever, *value));
    auto [changes, outcome] = with_reserve(steps);
    words.push_back(steps.back().words + " (planned " + lever.shown(lever.start) + ")");
    words.push_back(hold_words(changes, trials_.variants().planned_hold()));
    bool const late = outcome.unmet == Unmet{Need::release};
    bool const done = outcome.unmet.empty();
    a_.proposals.push_back({kind, joined(words), changes, value, found.middle, found.edge,
                            found.works_to, searched, std::move(outcome),
                            notes(trials_.changed(merged(before)).resin, lever, *value)});
    if (late && lever.kind != Kind::fill_temperature && !fill_fails()) {
      auto const warmer = fill_lever(trials_.changed(merged(steps)), trials_.reach());
      return turn(steps, warmer, Need::release, true);
    }
    return done;
  }

  [[nodiscard]] bool fill_fails() const {
    return std::any_of(a_.no_values.begin(), a_.no_values.end(), [](NoValue const& n) {
      return n.kind == std::vector{Kind::fill_temperature};
    });
  }

  /// The changes with the hold that they need, and their run, which must do it too with any target
  /// missed by a step.
  std::pair<Changes, Outcome> with_reserve(Steps const& steps) {
    auto const planned = merged(steps);
    std::vector<Changes> missed;
    for (auto const& step : steps) {
      if (step.weaker) missed.push_back(together(planned, *step.weaker));
    }
    auto const changes = trials_.with_hold(planned, missed);
    auto outcome = trials_.in_full(changes);
    if (!outcome.unmet.empty()) return {changes, outcome};
    for (auto& x : missed) {
      x.hold = changes.hold;
      if (!trials_.in_full(x).unmet.empty()) {
        outcome.unmet = {Need::reserve};
        break;
      }
    }
    return {changes, outcome};
  }

  /// Proposals: each once; those that do it first, then few changes, then resins whose constants
  /// are not taken as exact, which would look surer than they are, then an early release.
  void sort() {
    std::set<std::string> told;
    std::erase_if(a_.proposals, [&](Proposal const& p) { return !told.insert(p.words).second; });
    std::stable_sort(a_.hardeners.begin(), a_.hardeners.end(), [](auto const& a, auto const& b) {
      return or_last(a.outcome.latest_in_place) < or_last(b.outcome.latest_in_place);
    });
    auto const exact = [this](Changes const& x) {
      return x.hardener && trials_.ranged() &&
             !trials_.has_constants(trials_.job().others[*x.hardener].job);
    };
    auto const rank = [&](Proposal const& p) {
      return std::tuple(!p.does_it(), p.kind.size(), exact(p.changes),
                        or_last(p.outcome.decision.release_time));
    };
    std::stable_sort(a_.proposals.begin(), a_.proposals.end(),
                     [&](auto const& a, auto const& b) { return rank(a) < rank(b); });
  }

  Trials& trials_;
  Advice a_;
};

}  // namespace detail

CURE_FUNCTION Advice advise(Job const& job, Options const& options) {
  Trials trials(job, options);
  auto advice = detail::Advisor(trials).run();
  if (options.stated) {
    advice.uncertain = decide::in_words(*options.stated, trials.has_constants(job.planned));
  } else {
    advice.why_no_ranges = decide::no_ranges_asked;
  }
  return advice;
}
#endif

}  // namespace cure::advise
