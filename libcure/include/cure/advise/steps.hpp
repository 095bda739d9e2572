#pragma once
/// Changes that a proposal puts together, and what is said of a search.

#include <cstdio>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/advise/search.hpp"
#include "cure/advise/words.hpp"

namespace cure::advise {

/// One of the changes that a proposal puts together.
struct Step {
  Kind kind;
  std::string words;
  Changes changes;
  std::optional<Changes> weaker;  ///< one step to the bad side; nothing where there are no steps
};
using Steps = std::vector<Step>;

inline Changes merged(Steps const& steps, bool weaker = false) {
  Changes all;
  for (auto const& step : steps) {
    all = together(all, weaker && step.weaker ? *step.weaker : step.changes);
  }
  return all;
}

/// What is changed, and how that is said.
struct Named {
  std::vector<Kind> kind;
  std::vector<std::string> words;
};

inline Named named(Steps const& steps) {
  Named all;
  for (auto const& step : steps) {
    all.kind.push_back(step.kind);
    all.words.push_back(step.words);
  }
  return all;
}

inline Steps and_then(Steps steps, Step step) {
  steps.push_back(std::move(step));
  return steps;
}

inline Step turned(Lever const& lever, double value) {
  return {lever.kind, lever.words(value), lever.turned({}, value),
          lever.turned({}, lever.weaker(value))};
}

/// Tries the first of some changes, then the first two, until they do it: no more than it takes.
template <class Try>
void with_first(Steps const& changes, bool done, Try const& tried) {
  Steps some;
  for (auto const& step : changes) {
    if (done) return;
    some.push_back(step);
    done = tried(some, some.size() < changes.size());
  }
}

/// How near the best value of a lever comes.
inline std::string best_words(Found const& found, Lever const& lever, Need need) {
  // The range is shown anyway; only what else ended it needs words.
  std::string end;
  if (!lever.why_end.ends_with("looked at")) {
    end = "; " + lever.shown(lever.values().back()) + " is " + lever.why_end;
  }
  auto const at = (lever.timed() ? ", if held by " : ", at ") + lever.shown(found.best_at) + end;
  if (need == Need::working) return "at best in place by " + keep_to(found.best_time) + at;
  if (found.best_time >= limits::moment.high) return "no release at any" + end;
  return "at best released at " + wait_for(found.best_time) + at;
}

/// What colder resin is like to work with.
inline std::vector<std::string> notes(kinetics::Resin<double> const& resin, Lever const& lever,
                                      double value) {
  if (lever.kind != Kind::resin_temperature || !resin.viscosity) return {};
  auto const at = [&](double T) { return resin.viscosity->at(T, resin.initial_degree_of_cure); };
  char text[80];
  std::snprintf(text, sizeof text, "the mix is %.1f times as thick, %.1f Pa s",
                at(value) / at(lever.start), at(value));
  return {text};
}

}  // namespace cure::advise
