#pragma once
/// A case up to the moment when the liner is pressed against the pipe, which is left open: how long
/// the resin would stay workable if it were not held as planned. Nothing before the hold depends on
/// what comes after, so one run tells the latest moment in place.

#include <algorithm>
#include <variant>

#include "cure/process/case.hpp"

namespace cure::process {

/// The case without its held stage and all that follows, its last stage going on and on.
/// @param c with a stage before the held one. @param open how long that stage lasts at least [s]
inline Case before_hold(Case c, double open) {
  c.section.reset();  // before the liner is held all of it is even
  c.stages.erase(std::find_if(c.stages.begin(), c.stages.end(),
                              [](Stage const& s) { return std::holds_alternative<Held>(s); }),
                 c.stages.end());
  std::visit([open](auto& stage) { stage.duration = std::max(open, stage.duration); },
             c.stages.back());
  return c;
}

}  // namespace cure::process
