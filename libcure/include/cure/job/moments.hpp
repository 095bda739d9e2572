#pragma once
/// The answer to a job for a crew: times of day where the clock at mixing is known, each with its
/// band; rounded to the conservative side.

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "cure/decide/answer.hpp"
#include "cure/job/said.hpp"

namespace cure::job {

/// Something that a crew waits for or must be before.
struct Moment {
  std::string name, time;
  std::string likely;  ///< the band of 9 samples in 10; empty where there is none
};

/// When a job was mixed and is planned to be in place.
struct Times {
  std::optional<double> mixed_at;  ///< [min after midnight]
  double planned = 0.0;            ///< from mixing [min]
};

namespace detail {

/// Minutes as documents of answers have them: four decimals.
inline double in_minutes(double seconds) { return std::round(1e4 * seconds / 60.0) / 1e4; }

/// "1 h 45 min" after mixing, or the time of day. @param minutes infinite: never
inline std::string moment(Times const& t, double minutes, bool up, char const* never = "") {
  if (std::isinf(minutes)) return never;
  if (t.mixed_at) return clock_words(*t.mixed_at + minutes, up);
  return decide::duration_alone(60.0 * minutes, up);
}

inline std::string band(Times const& t, uncertain::Band const& b, char const* beyond) {
  if (std::isinf(b.p5)) return beyond;
  auto const low = moment(t, in_minutes(b.p5), false);
  auto const high = moment(t, in_minutes(b.p95), true, beyond);
  return low == high ? low : low + " to " + high;
}

}  // namespace detail

/// The decision in a sentence, with the time of day where it is known; the words of the answer
/// where there is no time.
inline std::string headline(decide::Answer const& a, Times const& t) {
  auto const& d = a.decision;
  if (!t.mixed_at || !d.release_time) return d.headline;
  return "Keep the bladder in until " + detail::moment(t, *d.release_time / 60.0, true) + ", " +
         decide::duration_alone(*d.release_time, true) + " after mixing." +
         (d.reasons.empty() ? "" : " Mind what is said below.");
}

/// Of an answer with ranges; without them the bands are empty and gelling has no time.
inline std::vector<Moment> moments(decide::Answer const& a, Times const& t) {
  using detail::moment, detail::band;
  constexpr char const* never = "not in the hold";
  auto const& d = a.decision;
  auto const& r = a.ranges;
  std::vector<Moment> rows{{"In place, as planned", moment(t, t.planned, false), ""}};
  rows.push_back({"In place at the latest",
                  d.latest_in_place ? moment(t, *d.latest_in_place / 60.0, false) : "no limit",
                  r && r->latest_in_place ? band(t, *r->latest_in_place, "later") : ""});
  if (r) {
    rows.push_back({"Gelled everywhere",
                    moment(t, detail::in_minutes(r->gel_last.p95), true, never),
                    band(t, r->gel_last, never)});
  }
  rows.push_back({"BLADDER OUT",
                  d.release_time ? moment(t, *d.release_time / 60.0, true) : "NOT TO BE PLANNED",
                  r ? band(t, r->release, never) : ""});
  return rows;
}

}  // namespace cure::job
