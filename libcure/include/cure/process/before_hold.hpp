#pragma once
/// A case up to the moment when the liner is pressed against the pipe. Nothing before the hold
/// depends on what comes after, on the pipe or on the ground: cases that differ in these alone have
/// it in common, and one run that is left open, not held as planned, tells the latest moment in
/// place.

#include <algorithm>
#include <cstddef>
#include <variant>

#include "cure/process/case.hpp"

namespace cure::process {

/// Longest wet-out that is looked at for a latest moment in place [s].
inline constexpr double longest_wet_out = 86400.0;

/// How many stages come before the first in which the liner lies in the pipe.
inline std::size_t stages_before_hold(Case const& c) {
  auto const in_pipe = std::find_if(c.stages.begin(), c.stages.end(),
                                    [](Stage const& s) { return kind(s) >= StageKind::held; });
  return static_cast<std::size_t>(in_pipe - c.stages.begin());
}

/// Whether all that is felt before the hold is the same to the bit in both, so that they reach it
/// in the same state. What is not known to be felt later only counts.
inline bool same_before_hold(Case const& a, Case const& b) {
  // Each part by its name: one that is added to a case has to be thought of here.
  auto const& [title, resin, uncertain_resin, pipe, liner, bladder, ground, initial, contact,
               stages, release, service, section, discretisation, defaults] = a;
  auto const n = stages_before_hold(a);
  auto const by_stage = [](Case const& c) { return c.stages.begin(); };
  // The resin last: it is the longest, and rows seldom differ in it alone.
  return initial.resin == b.initial.resin && initial.fibre == b.initial.fibre &&
         initial.packer == b.initial.packer && initial.air == b.initial.air && liner == b.liner &&
         pipe.inner_diameter == b.pipe.inner_diameter &&
         contact.bladder_liner == b.contact.bladder_liner && bladder == b.bladder &&
         discretisation.bladder == b.discretisation.bladder &&
         discretisation.liner == b.discretisation.liner && release == b.release &&
         n == stages_before_hold(b) &&
         std::equal(by_stage(a), by_stage(a) + static_cast<std::ptrdiff_t>(n), by_stage(b)) &&
         resin == b.resin;
}

/// The case without its held stage and all that follows, its last stage going on and on.
/// @param c with a stage before the held one. @param open how long that stage lasts at least [s]
inline Case before_hold(Case c, double open) {
  c.section.reset();  // before the liner is held all of it is even
  c.stages.resize(stages_before_hold(c));
  std::visit([open](auto& stage) { stage.duration = std::max(open, stage.duration); },
             c.stages.back());
  return c;
}

}  // namespace cure::process
