#pragma once
/// What the readings of a running job come to. Times count from mixing; infinite is never, or not
/// while it was looked at.

#include <Eigen/Core>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/decide/answer.hpp"
#include "cure/follow/assumptions.hpp"
#include "cure/follow/readings.hpp"
#include "cure/follow/weighted.hpp"
#include "cure/uncertain/normal.hpp"

#if CURE_INSIDE
#include "cure/ensemble/outcome.hpp"
#endif

namespace cure::follow {

using uncertain::Band;

/// Times as far as they are known at some stage of knowledge [s].
struct Sure {
  Band working, gel_last, release;
  /// What to wait for, up to the next release_step: before the readings as decide::answer says it;
  /// with them the `side` with its sampling error.
  double wait_until = 0.0;
  std::array<double, 6> state_share{};  ///< of rows, by process::ReleaseState
  double failed_share = 0.0;            ///< could not be computed
};

/// One thing that was not known, before and after.
struct Unknown {
  std::string name, title;
  std::string unit;    ///< "K", "min", "%", or "1" for a factor
  Band before = {};    ///< its assumed range: an offset on what the case says, or a factor
  Band after = {};     ///< the same with the readings
  double moved = 0.0;  ///< by how many of its standard deviations the middle went
  double kept = 1.0;   ///< standard deviation after over before; 1: the readings say nothing of it
  std::string source;  ///< where the range comes from
};

/// What the probe should read: 5, 50 and 95 % [K] at times [s].
struct TemperatureBand {
  Eigen::VectorXd time, p5, p50, p95;
};

enum class Status { may_come_out, keep_in, not_on_these_readings, no_release };

struct Result {
  std::string at;          ///< where the probe lies
  std::string file;        ///< of the readings; empty when they came from code
  double now = 0.0;        ///< the moment that the answer is for [s]
  bool now_given = false;  ///< by a person; else it is the last row's, no better than its clock
  Sure before, after;
  /// Whether the readings passed all checks, so that they may move the release earlier.
  bool relied_on = false;
  /// The answer [s]: that of `after`, which is the later of those with and without the readings
  /// when they are not relied on.
  double release = 0.0;
  double working = 0.0;  ///< 5 % side [s]; the earlier one when the readings are not relied on
  std::vector<Statement> reasons;           ///< why they are not relied on; empty when they are
  std::vector<Statement> faults;            ///< found wrong with single readings, and left out
  std::vector<std::string> cautions;        ///< urgent ones of the plan itself, without readings
  std::vector<std::string> usual_cautions;  ///< what to mind at any such job
  std::vector<Unknown> unknowns;
  Screened readings;
  double effective_readings = 0.0;  ///< independent ones that they are worth
  double effective_rows = 0.0;      ///< rows of equal weight that the answer rests on
  std::size_t samples = 0;
  std::uint64_t seed = 0;
  TemperatureBand band_before, band_after;

  /// Whether the answer has passed: only readings that are relied on can tell, and the last good
  /// one if nobody says what time it is.
  [[nodiscard]] bool passed() const {
    if (!relied_on) return false;
    return release <= (now_given ? now : readings.time(readings.with(used).back()));
  }
  [[nodiscard]] Status status() const {
    if (std::isinf(release)) return Status::no_release;
    if (!relied_on) return Status::not_on_these_readings;
    return passed() ? Status::may_come_out : Status::keep_in;
  }
};

/// What is known without readings: the release is the answer's; of a plan that must not be done,
/// that of its liner once it lies there.
inline Sure sure_of(decide::Answer const& planned) {
  auto const& r = *planned.ranges;
  double const wait =
      planned.decision.release_time.value_or(process::rounded_up(r.release_side.bound));
  return {r.working, r.gel_last, r.release, wait, r.state_share, r.failed_share};
}

#if CURE_INSIDE
/// What is known of rows that readings have weighed, with the error that the model's times keep
/// when its constants are known.
inline Sure sure_of(std::vector<ensemble::Outcome> const& outcomes, Weighted const& rows) {
  auto const parts = numerics::index(time_points.size());
  auto const n = rows.weight.size() * parts;
  Eigen::VectorXd working(n), gel(n), release(n), weight(n);
  Sure s;
  for (Eigen::Index i = 0; i < rows.weight.size(); ++i) {
    auto const& o = outcomes[static_cast<std::size_t>(i)];
    auto const safe = ensemble::conservative(o);
    double const w = rows.weight(i);
    (o.failure.empty() ? s.state_share[static_cast<std::size_t>(o.release_state)]
                       : s.failed_share) += w;
    for (Eigen::Index j = 0; j < parts; ++j) {
      double const error =
          std::exp(time_sd * uncertain::normal_quantile(time_points[static_cast<std::size_t>(j)]));
      working(i * parts + j) = error * safe.working_time;
      gel(i * parts + j) = error * safe.gel_time_last;
      release(i * parts + j) = error * safe.release_time;
      weight(i * parts + j) = w / static_cast<double>(parts);
    }
  }
  WeightedValues const releases(release, weight);
  s.working = WeightedValues(working, weight).band(false);
  s.gel_last = WeightedValues(gel, weight).band(true);
  s.release = releases.band(true);
  double const latest = releases.quantile(safe_share(rows.effective), true);
  s.wait_until = std::isinf(latest) ? latest : process::rounded_up(latest);
  return s;
}
#endif

}  // namespace cure::follow
