#pragma once
/// From a case to its history and verdict: the call that answers a crew's questions.

#include <optional>

#include "cure/compiled.hpp"
#include "cure/error.hpp"
#include "cure/process/cautions.hpp"
#include "cure/process/numerical_error.hpp"
#include "cure/process/verdict.hpp"

#if CURE_INSIDE
#include "cure/process/simulate.hpp"
#endif

namespace cure::process {

struct Prediction {
  History history;
  Verdict verdict;
};

/// When a hold that ends at the release does so, unless the plan of its last stage so far ends it
/// sooner [s on the job's clock].
inline std::optional<double> release_rule(Case const& c, History const& history,
                                          std::optional<double> bladder_out) {
  auto const hold = hold_of(history);
  auto const point = met_for_good(history, releasable(c));
  if (!point) return std::nullopt;
  double const t = bladder_out.value_or(rounded_up(point->time * c.release.safety_factor));
  return t > hold.front().start && t < hold.back().end() ? std::optional(t) : std::nullopt;
}

#if CURE_DEFINES(PROCESS)
namespace detail {

inline History history_of(Case const& c, std::optional<double> bladder_out) {
  return Simulation(c).run(
      [&](History const& so_far) { return release_rule(c, so_far, bladder_out); });
}

}  // namespace detail
#endif

/// Runs a case.
/// @param with_error also estimate the numerical error of each time, for less than the run's own
/// cost again
/// @param bladder_out when it is to come out, as for judge [s]
/// @throws InputError when the case cannot be or takes too much, SolverError, Stopped
CURE_FUNCTION Prediction predict(Case const& c, bool with_error = false,
                                 std::optional<double> bladder_out = std::nullopt);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION Prediction predict(Case const& c, bool with_error,
                                 std::optional<double> bladder_out) {
  Prediction p;
  p.history = detail::history_of(c, bladder_out);
  p.verdict = judge(c, p.history, bladder_out);
  if (with_error) {
    try {
      p.verdict.numerical_error = estimate_error(c, p.history, p.verdict, bladder_out);
    } catch (SolverError const& e) {  // of a coarser run; the times themselves stand
      p.verdict.no_estimate = e.what();
    }
  }
  add_cautions(c, p.history, p.verdict);
  return p;
}
#endif

/// Of the times alone what many rows keep, without the return to service, peaks of other layers,
/// cautions or advice: the same numbers for half the judging.
CURE_FUNCTION Verdict predict_times(Case const& c);
/// The return to service alone [s]; nothing where it does not come within the stages.
/// @param bladder_out as for predict
CURE_FUNCTION std::optional<double> predict_service(Case const& c,
                                                    std::optional<double> bladder_out);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION Verdict predict_times(Case const& c) {
  auto const history = detail::history_of(c, std::nullopt);
  Verdict v;
  detail::judge_times(c, history, v);
  detail::find_hottest_resin(history, v);
  return v;
}

CURE_FUNCTION std::optional<double> predict_service(Case const& c,
                                                    std::optional<double> bladder_out) {
  auto const history = detail::history_of(c, bladder_out);
  Verdict v;
  detail::judge_release(c, history, v);
  detail::judge_service(c, history, bladder_out, v);
  return v.service_time;
}
#endif

}  // namespace cure::process
