#pragma once
/// Advice in words. Times are rounded to the conservative side: what ends the work down, what must
/// be waited for up.

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/advise/advice.hpp"
#include "cure/advise/levers.hpp"
#include "cure/decide/words.hpp"

namespace cure::advise {

/// A time to keep to, rounded down; nothing, or infinite, is without a limit that was met [s].
inline std::string keep_to(std::optional<double> seconds) {
  if (!seconds || std::isinf(*seconds)) return "no limit met";
  return decide::short_duration(60.0 * std::max(0.0, decide::whole(*seconds / 60.0, false)));
}

/// A time to wait for, rounded up; nothing, or infinite, is never [s].
inline std::string wait_for(std::optional<double> seconds) {
  if (!seconds || std::isinf(*seconds)) return "never";
  return decide::short_duration(60.0 * decide::whole(*seconds / 60.0, true));
}

inline std::string joined(std::vector<std::string> const& words, char const* by = ", ") {
  std::string all;
  for (auto const& word : words) {
    if (!word.empty()) all += (all.empty() ? "" : by) + word;
  }
  return all;
}

/// The hold where it is changed, else nothing. @param planned [s]
inline std::string hold_words(Changes const& x, double planned) {
  if (!x.hold) return {};
  return "bladder held for " + decide::short_duration(*x.hold) + " (planned " +
         decide::short_duration(planned) + ")";
}

/// "liner inner face, 6 o'clock": layer, position and, in a section, the place along it.
inline std::string place_words(process::Point const& p) {
  if (p.position == "whole mass") return p.layer;
  std::string along = p.clock;
  if (!p.angle && p.distance) along = shown(std::round(1e3 * *p.distance)) + " mm along";
  return p.layer + " " + p.position + (along.empty() ? "" : ", " + along);
}

/// What is wrong with an outcome, a few words each.
inline std::vector<std::string> wrong(Outcome const& o) {
  static constexpr std::array<std::pair<std::string_view, char const*>, 4> of_model{
      {{"outside_validity", "outside the model"},
       {"outside_model", "outside the model"},
       {"marginal", "marginal"},
       {"too_viscous_at_mixing", "too thick"}}};
  std::vector<std::string> words;
  auto const is = [&o](Need need) { return o.unmet.contains(need); };
  if (o.verdict.release_state == process::ReleaseState::gelled_before_held) {
    words.emplace_back("sets too soon");
  } else {
    if (is(Need::working)) words.emplace_back("too little time");
    if (is(Need::release)) {
      words.emplace_back(o.safest().release ? "release too late" : "no release");
    }
  }
  if (is(Need::hot)) {
    words.emplace_back("too hot");
  } else if (is(Need::model)) {
    auto const before = words.size();
    for (auto const& reason : o.decision.reasons) {
      for (auto const& [code, said] : of_model) {
        if (code == reason.code) words.emplace_back(said);
      }
    }
    if (words.size() == before) words.emplace_back("not reliable");
  }
  if (is(Need::reserve)) words.emplace_back("not with a target missed by a step");
  return words;
}

/// A proposal with what to mind.
inline std::string said(Proposal const& p) {
  auto words = p.notes;
  words.insert(words.begin(), p.words);
  auto& first = words.front();
  if (!first.empty() && first[0] >= 'a' && first[0] <= 'z') {
    first[0] = static_cast<char>(first[0] - 'a' + 'A');
  }
  if (p.middle && p.value != p.middle) {
    auto const kind = p.kind.back();
    words.push_back((kind == Kind::hold       ? wait_for(p.middle)
                     : kind == Kind::in_place ? keep_to(p.middle)
                                              : degrees(*p.middle)) +
                    " by middle values");
  }
  return joined(words, "; ");
}

/// The answer in one line or two.
inline std::string headline(Advice const& a) {
  auto const& o = a.planned;
  auto const release = wait_for(o.decision.release_time);
  if (a.nothing_to_change()) {
    auto const latest = o.safest().latest_in_place;
    auto const place =
        latest ? " Liner in place by " + keep_to(latest) + " at the latest." : std::string();
    return "NOTHING NEEDS CHANGING." + place + " Bladder in until " + release + " after mixing.";
  }
  if (o.unmet.empty()) {
    return "KEEP THE BLADDER IN UNTIL " + release +
           " after mixing, or measure the wall. Nothing else needs changing.";
  }
  auto const what =
      std::string(o.decision.status == decide::Status::stop ? "DO NOT DO THIS JOB AS PLANNED"
                                                            : "AS PLANNED IT IS NOT ENOUGH") +
      ": " + joined(wrong(o));
  if (a.good() == 0) return what + ". Nothing that was looked at does it.";
  return what + ". " + std::to_string(a.good()) +
         (a.good() == 1 ? " change does it." : " changes do it.");
}

}  // namespace cure::advise
