#pragma once
/// The cases that trials of a job run: with changes, held as long as may be looked at, and with a
/// wet-out that goes on until the resin is workable no longer; and what is asked of them.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <variant>

#include "cure/advise/changes.hpp"
#include "cure/advise/needs.hpp"
#include "cure/process/before_hold.hpp"

namespace cure::advise {

class Variants {
 public:
  /// @param job with a held stage; must outlive the variants
  Variants(Job const& job, Needs const& needs, Reach const& reach) : job_(&job), needs_(needs) {
    auto const hold = *process::planned_hold(job.planned);
    planned_hold_ = hold.second - hold.first;
    longest_hold_ = std::max(reach.longest_hold, planned_hold_);
    open_ = std::max(process::longest_wet_out, 2.0 * needs.working);
    held_ = process::held_stages(job.planned)->first;
  }

  /// Longest wet-out looked at [s].
  [[nodiscard]] double open() const { return open_; }
  [[nodiscard]] double planned_hold() const { return planned_hold_; }  ///< [s]
  /// Longest hold that is looked at [s].
  [[nodiscard]] double longest_hold() const { return longest_hold_; }
  /// Whether something comes before the liner is held.
  [[nodiscard]] bool has_before() const { return held_ > 0; }

  /// When the liner is held [s].
  [[nodiscard]] double held_from(Changes const& x) const {
    return x.in_place.value_or(needs_.held_from);
  }
  /// What the latest moment in place must be [s]: the reserve is kept, however quick the crew is.
  [[nodiscard]] double working_target(Changes const& x) const {
    return needs_.working_stated ? needs_.working : held_from(x) + needs_.reserve;
  }
  /// What the release must be [s]: in time, or within a hold as long as is planned.
  [[nodiscard]] double release_target(Changes const& x) const {
    double const by = needs_.release_by.value_or(held_from(x) + planned_hold_);
    return process::release_step * std::floor(by / process::release_step + 1e-9);
  }

  /// The changed case, held as long as may be, so that a late release is seen too.
  [[nodiscard]] Case held_longest(Changes x) const {
    if (!x.hold) x.hold = longest_hold_;
    return changed(*job_, x);
  }

  /// The changed case, its last stage before the pipe going on and on; itself when there is none.
  [[nodiscard]] Case opened(Changes const& x) const {
    if (held_ == 0) return held_longest(x);
    return process::before_hold(changed(*job_, x), open_);
  }

  /// Those changes that matter before the liner is held.
  [[nodiscard]] Changes before_held(Changes x) const {
    if (held_ > 0) {
      x.fill.reset();
      x.hold.reset();
    }
    return x;
  }

 private:
  Job const* job_;
  Needs needs_;
  std::size_t held_ = 0;  ///< which stage
  double planned_hold_ = 0.0, longest_hold_ = 0.0, open_ = 0.0;
};

}  // namespace cure::advise
