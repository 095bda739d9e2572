#pragma once
/// Mesh and steps by what they are to achieve: refined until the estimated numerical error of the
/// release is within a goal.

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "cure/compiled.hpp"
#include "cure/process/predict.hpp"

namespace cure::process {

/// Most cells that refining may come to, of all layers together, and how often it is tried.
inline constexpr std::size_t most_refined_cells = 2000;
inline constexpr int most_refinements = 4;

/// The case on a mesh, and with steps, whose estimated error of the release is within
/// `discretisation.release_within`. As it is where no goal is stated, where there is no release, or
/// no error to go by; as far as it may be refined where that does not do, which cautions then say.
///
/// The estimate falls with the cell width to the power 1.5 or better (see numerical_error.hpp) and
/// in proportion to the tolerances: from one estimate follows how much finer the next must be.
/// @throws InputError, SolverError, Stopped
CURE_FUNCTION Case refined(Case c);
#if CURE_DEFINES(PROCESS)
CURE_FUNCTION Case refined(Case c) {
  auto const goal = c.discretisation.release_within;
  for (int i = 0; goal && i < most_refinements; ++i) {
    auto const v = predict(c, true).verdict;
    auto const error =
        v.numerical_error ? v.numerical_error->time.at("release").error : std::nullopt;
    if (!error || *error <= *goal) return c;
    auto const& d = c.discretisation;
    double const cells = static_cast<double>(d.bladder + d.liner + d.pipe + d.ground) *
                         (c.section ? static_cast<double>(c.section->columns) : 1.0);
    double const room = static_cast<double>(most_refined_cells * (c.section ? 48 : 1)) / cells;
    double const finer = std::min(
        {1.1 * std::pow(*error / *goal, 1.0 / 1.5), 4.0, c.section ? std::sqrt(room) : room});
    if (finer < 1.05) return c;  // no more room
    auto next = d.coarser(1.0 / finer);
    double const tighter = std::pow(finer, -2.0);
    next.tolerance.temperature = std::max(1e-9, tighter * d.tolerance.temperature);
    next.tolerance.alpha = std::max(1e-12, tighter * d.tolerance.alpha);
    c.discretisation = next;
    if (c.section) {  // an even number, as documents have it
      c.section->columns = 2 * static_cast<std::size_t>(std::lround(
                                   0.5 * finer * static_cast<double>(c.section->columns)));
    }
  }
  return c;
}
#endif

}  // namespace cure::process
