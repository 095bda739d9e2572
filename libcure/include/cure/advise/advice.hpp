#pragma once
/// What to change in a job, or that nothing needs changing.

#include <algorithm>
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/advise/changes.hpp"
#include "cure/advise/needs.hpp"
#include "cure/advise/outcome.hpp"

namespace cure::advise {

/// A change that was found and computed in full. Values are those of what is turned last [K], or of
/// the hold [s].
struct Proposal {
  std::vector<Kind> kind;  ///< what is changed
  std::string words;
  Changes changes;
  std::optional<double> value;     ///< a round one with a step in reserve; none of a resin or shade
  std::optional<double> middle;    ///< the same if only the middle values had to meet the need
  std::optional<double> edge;      ///< where the middle values only just meet it, before rounding
  std::optional<double> works_to;  ///< farthest round value, without a gap, at which they do
  std::optional<std::pair<double, double>> searched;  ///< first and last value looked at
  Outcome outcome;
  std::vector<std::string> notes;

  [[nodiscard]] bool does_it() const { return outcome.unmet.empty(); }
};

/// A change of which no value in the range does it.
struct NoValue {
  std::vector<Kind> kind;
  std::string words;
  std::optional<std::pair<double, double>> searched;  ///< [K], of a hold [s]
  std::string best;  ///< how near the best of them comes, in words; may be empty
};

/// The same job with another resin model, nothing else changed.
struct Hardener {
  std::string resin;  ///< id or path
  std::string title;
  bool estimated = false;
  bool own = false;    ///< the resin of the case
  bool exact = false;  ///< its constants have no covariance, so its conservative sides lack them
  Outcome outcome;
};

struct Advice {
  std::string title;  ///< of the case
  Needs needs;
  Reach reach;
  Outcome planned;                    ///< the job as the case has it
  std::vector<std::string> cautions;  ///< that hold whatever the times
  std::vector<Proposal> proposals;    ///< those that meet every need first
  std::vector<NoValue> no_values;
  std::vector<Hardener> hardeners;  ///< by working time, shortest first
  std::string uncertain;            ///< whose ranges; empty for a point estimate
  std::string why_no_ranges;        ///< empty when there are
  double longest_wet_out = 0.0;     ///< looked at [s]
  std::string headline;             ///< the answer in one line or two

  /// Whether the job as planned meets every need, and predict has nothing to say against it.
  [[nodiscard]] bool nothing_to_change() const {
    return planned.unmet.empty() && planned.decision.status == decide::Status::ok;
  }
  /// How many proposals meet every need; they come first.
  [[nodiscard]] std::size_t good() const {
    return static_cast<std::size_t>(std::count_if(proposals.begin(), proposals.end(),
                                                  [](Proposal const& p) { return p.does_it(); }));
  }
};

}  // namespace cure::advise
