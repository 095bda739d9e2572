#pragma once
/// The page of an answer, from its case.

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/decide/answer.hpp"
#include "cure/page/case_words.hpp"
#include "cure/page/rows.hpp"
#include "cure/process/usual_cautions.hpp"

namespace cure::page {

/// What only the caller knows of a case.
struct Notes {
  std::string name;     ///< stands for a title that is missing, such as the file's
  std::string changed;  ///< what was changed in the document; empty when nothing was
};

#if CURE_INSIDE
namespace detail {

inline std::vector<Fact> facts(process::Case const& c, process::Verdict const& v,
                               Notes const& notes) {
  std::string resin = c.resin.title;
  if (c.resin.estimated) resin += ", ESTIMATED MODEL";
  if (c.resin.transcribed) resin += ", constants transcribed";
  if (auto const& verified = c.resin.evidence.verified) {
    resin += ", verified from " + fixed(celsius_from_kelvin(verified->first), 0) + " °C to " +
             fixed(celsius_from_kelvin(verified->second), 0) + " °C";
  }
  std::vector<Fact> facts{{"Resin", std::move(resin)}, {"Wall", wall(c)}};
  if (c.section) facts.push_back({"Section", describe(*c.section, c)});
  if (!notes.changed.empty()) facts.push_back({"Changed", notes.changed});
  auto const found = conditions(c, &v);
  facts.insert(facts.end(), found.begin(), found.end());
  facts.push_back({"Release", needs(process::release_needs(c))});
  return facts;
}

/// The estimated numerical errors, rounded up.
inline std::string numerics(process::Verdict const& v) {
  if (!v.numerical_error) return "";
  std::vector<std::string> parts;
  std::pair<char const*, char const*> const names[] = {{"working", "working time"},
                                                       {"gel_first", "first gel"},
                                                       {"gel_last", "last gel"},
                                                       {"release", "criterion met"},
                                                       {"service", "return to service"}};
  for (auto const& [key, name] : names) {
    auto const& time = v.numerical_error->time.at(key);
    if (time.error) {
      parts.push_back(std::string(name) + " " + plus_minus(*time.error));
    } else if (time.marginal) {
      parts.push_back(std::string(name) + " CANNOT BE TOLD");
    }
  }
  double const peak = up(10.0 * v.numerical_error->peak_temperature) / 10.0;
  parts.push_back("hottest resin ± " + number(peak) + " K");
  return "Numerical error: " + joined(parts, ", ") + ".";
}

/// What the ranges are, or why there are none.
inline std::string about_ranges(decide::Answer const& a, Headings const& headings) {
  if (!a.ranges) {
    return "A point estimate, without ranges: " + a.why_no_ranges +
           "; the release is its time and numerical error times the safety factor.";
  }
  auto const& r = *a.ranges;
  auto const failed = std::lround(r.failed_share * static_cast<double>(r.samples));
  return headings.likely + ": 5 to 95 % of " + std::to_string(r.samples) +
         " samples of this job, held for " + decide::short_duration(r.look) +
         " (to service: of the stages given), with what is not known exactly; " + r.source + "." +
         (r.constants ? "" : " The resin's constants count as exact.") +
         (failed != 0 ? " " + std::to_string(failed) +
                            " of them could not be computed and count to the conservative side."
                      : "") +
         " Bladder out: their 95 % side, with its sampling and numerical error, up to the next 5 "
         "min.";
}

/// The reasons, in brackets, are in the document of the answer.
inline std::string defaults(std::vector<std::string> const& all) {
  std::vector<std::string> shown;
  for (auto const& line : all) {
    auto words = line.substr(0, line.find(" ("));
    for (std::size_t at = 0; (at = words.find(": ", at)) != std::string::npos; ++at) {
      words.erase(at, 1);
    }
    shown.push_back(std::move(words));
  }
  return shown.empty() ? "" : "Not in the case, so by default: " + joined(shown, "; ") + ".";
}

inline std::string solver(process::Case const& c, process::Verdict const& v) {
  char energy[32];
  std::snprintf(energy, sizeof energy, "%.0e", v.energy_residual);
  auto const far = far_words(c);
  return std::to_string(v.steps) + " steps, energy balance closed to " + energy +
         (far.empty() ? "" : "; " + far) + ".";
}

inline void take_cautions(std::vector<process::Caution> const& cautions, Page& p) {
  std::vector<std::string> short_words;
  for (auto const& caution : cautions) {
    if (auto const words = process::in_short(caution.code); !words.empty()) {
      p.usual.push_back({std::string(words), caution.text});
      short_words.emplace_back(words);
    } else if (std::none_of(p.reasons.begin(), p.reasons.end(),
                            [&](auto const& r) { return r.text == caution.text; })) {
      p.cautions.push_back(caution);
    }
  }
  p.at_any_job = "At any job: " + joined(short_words, "; ") + ".";
}

}  // namespace detail
#endif

/// @param c the case of the answer
CURE_FUNCTION Page page_of(process::Case const& c, decide::Answer const& a,
                           Notes const& notes = {});
#if CURE_DEFINES(DECIDE)
CURE_FUNCTION Page page_of(process::Case const& c, decide::Answer const& a, Notes const& notes) {
  auto const& v = a.prediction.verdict;
  Page p;
  p.title = c.title.empty() ? notes.name : c.title;
  p.status = a.decision.status;
  p.headline = a.decision.headline;
  p.facts = detail::facts(c, v, notes);
  p.ranged = a.ranges.has_value();
  p.rows = rows(c, a);
  p.reasons = a.decision.reasons;
  detail::take_cautions(v.cautions, p);
  p.numerics = detail::numerics(v);
  p.ranges = detail::about_ranges(a, p.headings);
  p.defaults = detail::defaults(c.defaults);
  p.solver = detail::solver(c, v);
  return p;
}
#endif

}  // namespace cure::page
