#pragma once
/// Cautions about who set the release criterion of a case: by conversion it is always the case,
/// which also may ask for less than the resin's model does or, by mechanics, than this library.

#include <cstdio>
#include <string>

#include "cure/process/case.hpp"
#include "cure/process/verdict.hpp"

namespace cure::process::detail {

inline std::string asked(char const* form, double value) {
  char text[64];
  std::snprintf(text, sizeof text, form, value);
  return text;
}

/// What a case's criterion asks less of, "0.50 instead of 0.65 degree of cure"; empty: of nothing.
inline std::string weakened(Case const& c) {
  std::string words;
  auto const less = [&](char const* form, double here, double usual, char const* what) {
    if (!(here < usual)) return;
    words += (words.empty() ? "" : ", ") + asked(form, here) + " instead of " + asked(form, usual) +
             " " + what;
  };
  auto const& r = c.release;
  ReleaseCriterion const usual;
  if (r.by == ReleaseBy::conversion) {
    less("%.3g", r.alpha_min, c.resin.release_alpha_min, "degree of cure");
    less("%.3g", r.Tg_margin, c.resin.release_Tg_margin, "K of Tg above the resin");
  } else {
    less("%.3g", r.bears.factor, usual.bears.factor, "times the load");
    less("%.3g", r.load_time / 3600.0, usual.load_time / 3600.0, "hours under load");
  }
  return words;
}

inline void caution_criterion(Case const& c, Verdict& v) {
  bool const conversion = c.release.by == ReleaseBy::conversion;
  if (auto const words = weakened(c); !words.empty()) {
    v.cautions.push_back({"criterion_weakened",
                          "The case asks less of the release than " +
                              std::string(conversion ? "the resin's model" : "this library") +
                              " does: " + words + ". Whoever wrote the case answers for that."});
  } else if (conversion) {
    v.cautions.push_back(
        {"criterion_of_case", "The case set the release criterion, not this library: " +
                                  asked("%.3g", c.release.alpha_min) + " degree of cure and Tg " +
                                  asked("%.3g", c.release.Tg_margin) + " K above the resin."});
  }
}

}  // namespace cure::process::detail
