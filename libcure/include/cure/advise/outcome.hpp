#pragma once
/// A job that was run, held against what is asked of it.

#include <cstddef>
#include <optional>

#include "cure/advise/needs.hpp"
#include "cure/decide/decision.hpp"
#include "cure/process/verdict.hpp"

namespace cure::advise {

/// The conservative sides of what is uncertain; times from mixing [s].
struct Sides {
  std::optional<double> latest_in_place;   ///< nothing: not in the longest wet-out looked at
  std::optional<double> working;           ///< of the working time as it goes; nothing: none
  std::optional<double> release;           ///< up to 5 min; nothing: none in the longest hold
  std::optional<double> peak_temperature;  ///< [K]; nothing: too many samples have no answer
};

/// What one whole simulation came to. `decision` is that of decide::answer, or of decide::decide
/// for the trials of a search.
struct Outcome {
  process::Verdict verdict;
  decide::Decision decision;
  /// Latest moment from mixing at which the liner may be held against the pipe and is still
  /// workable, when the wet-out goes on until then [s]; nothing: later than the longest looked at.
  std::optional<double> latest_in_place;
  Unmet unmet;                 ///< where known on the conservative sides too
  std::optional<Sides> sides;  ///< nothing for a point estimate
  std::size_t samples = 0;

  /// The conservative sides, or the times of the one simulation where they are not known.
  [[nodiscard]] Sides safest() const {
    if (sides) return *sides;
    return {latest_in_place, verdict.working_time,
            decision.release_time ? decision.release_time : verdict.release_time,
            verdict.peak.temperature};
  }
};

}  // namespace cure::advise
