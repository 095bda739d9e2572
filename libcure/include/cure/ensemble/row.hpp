#pragma once
/// One case of an ensemble on its way through the stages of the packed solver, and how rows that
/// are the same up to their hold (process::same_before_hold) go there once.

#include <algorithm>
#include <iterator>
#include <optional>
#include <utility>

#include "cure/ensemble/outcome.hpp"
#include "cure/ensemble/stage_arrays.hpp"
#include "cure/process/before_hold.hpp"

namespace cure::ensemble::detail {

/// What a row brings to its hold.
struct Start {
  Outcome outcome;
  Listener::Memory heard;
  process::CarriedState carried;
  unsigned happened = 0;
};

struct Row {
  process::Case c;
  Outcome* outcome = nullptr;
  std::optional<Listener> listener;
  StageArrays arrays;
  RateConstants rate;
  std::optional<process::CarriedState> carried;
  double alpha_at_end = 0.0;  ///< of the point that keeps it from release
  unsigned happened = 0;
  Row* leader = nullptr;       ///< whose start it takes; nothing: it goes its own way
  bool followed = false;       ///< by others, from its start
  std::optional<Start> start;  ///< of one that is followed

  /// Whether it reaches its hold in the same state as another.
  [[nodiscard]] bool starts_as(Row const& other) const {
    // The rates at first: most rows differ there.
    return std::equal(std::begin(rate.value), std::end(rate.value), std::begin(other.rate.value)) &&
           process::same_before_hold(c, other.c);
  }

  /// At the hold: keeps its start for those that follow, or takes its leader's, kept before.
  void share_start() {
    if (leader != nullptr) {
      auto const& from = *std::exchange(leader, nullptr)->start;
      *outcome = from.outcome;
      listener->remember(from.heard);
      *carried = from.carried;
      happened = from.happened;
    } else if (followed) {
      start = {*outcome, listener->memory(), *carried, happened};
    }
  }
};

}  // namespace cure::ensemble::detail
