#pragma once
/// How far the times of a case can be trusted: the case many times over, with what is not known
/// exactly, and the conservative side of each time.
///
/// The samples are held for two days at least, whatever the plan says: a release later than planned
/// is then a time, and not only "not within the hold".

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <iterator>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/decide/words.hpp"
#include "cure/process/verdict.hpp"
#include "cure/uncertain/quantile.hpp"

#if CURE_INSIDE
#include "cure/decide/more_samples.hpp"
#include "cure/process/before_hold.hpp"
#include "cure/uncertain/samples.hpp"
#endif

namespace cure::ensemble {
struct Outcome;
}

namespace cure::decide {

using process::Case, process::release_step, process::rounded_up;
using uncertain::Band, uncertain::Side, uncertain::side_share;

/// Shortest hold that is looked at [s].
inline constexpr double shortest_look = 48.0 * 3600.0;
struct Ranges {
  Band working, gel_first, gel_last, release;  ///< [s]; infinite: never
  Band margin;                                 ///< working time less the moment of holding [s]
  /// Latest moment at which the liner may be held and still be workable, when the stage before goes
  /// on until then [s]; of the first samples, and nothing where nothing comes before the hold.
  std::optional<Band> latest_in_place;
  Side latest_in_place_side;
  std::optional<Band> service;          ///< return to service [s]; not without that stage
  Band peak_temperature;                ///< of the resin, up to the end of the hold [K]
  Side working_side, release_side;      ///< 95 % sides with their own confidence bound [s]
  std::array<double, 6> state_share{};  ///< of samples, by process::ReleaseState
  double failed_share = 0.0;            ///< could not be computed; count as never
  double too_late_share = 0.0;          ///< pass their working limit before they are held
  double too_hot_share = 0.0;           ///< pass the lowest limit of resin, bladder and pipe
  double temperature_limit = 0.0;       ///< that limit [K]
  double look = 0.0;                    ///< how long the samples are held [s]
  std::size_t samples = 0;
  std::size_t simulated = 0;  ///< of these; those that would move no bound are foretold
  std::uint64_t seed = 0;
  bool constants = false;  ///< the resin's constants vary too
  std::string source;      ///< whose ranges these are, and what they are

  [[nodiscard]] bool held() const { return look > 0.0; }  ///< whether the job holds a liner
  [[nodiscard]] double share(process::ReleaseState state) const {
    return state_share[static_cast<std::size_t>(state)];
  }
  [[nodiscard]] double not_released_share() const {
    return 1.0 - share(process::ReleaseState::reached);
  }
};

/// Lowest temperature limit of resin, bladder and pipe [K].
inline double lowest_limit(Case const& c) {
  return std::min({c.resin.temperature_limit, c.bladder.material.temperature_limit,
                   c.pipe.material.temperature_limit});
}

namespace detail {

inline constexpr double infinite = std::numeric_limits<double>::infinity();

inline double or_never(double time) { return std::isnan(time) ? infinite : time; }

/// The case up to the release, held for as long as is looked at.
inline Case looked_at(Case c) {
  c = process::up_to_release(std::move(c));
  process::each<process::Held>(c, [](auto& held) { held.until_release = false; });
  if (auto const held = process::held_stages(c)) {
    auto& last = std::get<process::Held>(c.stages[held->second]);
    last.duration = std::max(last.duration, shortest_look);
  }
  return c;
}

#if CURE_INSIDE
/// Of more samples than these some are foretold from their points; and of a section's from coarser
/// ones, which take a tenth of the time.
inline constexpr std::size_t least_to_foretell = 512, first_of_section = 16;

/// What outcomes say.
inline void take_outcomes(std::vector<ensemble::Outcome> const& outcomes, double held_from,
                          Ranges& r) {
  std::vector<double> working, margin, gel_first, gel_last, release, peak;
  double const one = 1.0 / static_cast<double>(outcomes.size());
  for (auto const& o : outcomes) {
    auto const safe = ensemble::conservative(o);
    double const held = std::isnan(o.held_from) ? held_from : o.held_from;
    working.push_back(safe.working_time);
    // Without a hold neither comes: nothing is late.
    margin.push_back(std::isinf(working.back()) ? infinite : working.back() - held);
    gel_first.push_back(safe.gel_time_first);
    gel_last.push_back(safe.gel_time_last);
    release.push_back(safe.release_time);
    peak.push_back(safe.peak_temperature);
    if (!o.failure.empty()) {
      r.failed_share += one;
    } else {
      r.state_share[static_cast<std::size_t>(o.release_state)] += one;
    }
    if (margin.back() < 0.0) r.too_late_share += one;
    if (peak.back() > r.temperature_limit) r.too_hot_share += one;
  }
  r.working_side = uncertain::lower_side(working, side_share);
  r.release_side = uncertain::upper_side(release, side_share);
  r.working = uncertain::band(std::move(working), false);
  r.margin = uncertain::band(std::move(margin), false);
  r.gel_first = uncertain::band(std::move(gel_first), false);
  r.gel_last = uncertain::band(std::move(gel_last), true);
  r.release = uncertain::band(std::move(release), true);
  r.peak_temperature = uncertain::band(std::move(peak), true);
}

/// Whether more samples would not move what is printed by more than a step, or a fiftieth.
inline bool settled(Side const& side) {
  if (std::isinf(side.estimate)) return true;
  double const step = std::max(release_step, 0.02 * side.estimate);
  return side.covered && rounded_up(side.bound) - rounded_up(side.estimate) <= step + 1e-6;
}

/// A section's samples; all of them on wider cells and with looser steps foretell.
inline MoreSamples of_section(Case const& c, Case const& job, uncertain::Stated const& stated,
                              Edges const& edges,
                              std::shared_ptr<uncertain::Draws const> const& drawn,
                              std::size_t threads,
                              std::span<Number const> numbers = ranged_numbers) {
  auto const most = drawn->count();
  auto first = uncertain::Samples(job, stated, first_of_section, 0, threads).outcomes(threads);
  std::vector<ensemble::Outcome> coarse;
  if (have_all(first, numbers)) {
    auto const wide = process::on_wider_cells(job);
    coarse = uncertain::Samples(wide, drawn).outcomes(threads, ensemble::sample_tolerance);
  }
  return {c, job, stated, edges, std::move(first), most, threads, coarse, numbers};
}

/// Whether a section's samples are enough to foretell some of them.
inline bool foretells_section(Case const& c, std::size_t count) {
  return c.section && count >= 4 * first_of_section;
}

/// How long the liner may wait, not in the pipe yet.
inline void take_latest_in_place(Case const& c, uncertain::Stated const& stated,
                                 std::shared_ptr<uncertain::Draws const> const& drawn,
                                 std::size_t threads, Ranges& r) {
  auto const before = process::stages_before_hold(c);
  if (before == 0 || before == c.stages.size()) return;
  auto const waiting = process::before_hold(c, process::longest_wet_out);
  auto const outcomes = foretells_section(c, drawn->count())
                            ? of_section(c, waiting, stated, {}, drawn, threads, {&working_time, 1})
                                  .outcomes(drawn->count())
                            : uncertain::Samples(waiting, drawn).outcomes(threads);
  std::vector<double> latest;
  for (auto const& o : outcomes) latest.push_back(ensemble::conservative(o).working_time);
  r.latest_in_place_side = uncertain::lower_side(latest, side_share);
  r.latest_in_place = uncertain::band(std::move(latest), false);
}
#endif

}  // namespace detail

/// What samples of a case show. @param held_from from when the liner is held [s]
CURE_FUNCTION Ranges ranges_of(Case const& c, std::vector<ensemble::Outcome> const& outcomes,
                               double held_from);
#if CURE_DEFINES(DECIDE)
CURE_FUNCTION Ranges ranges_of(Case const& c, std::vector<ensemble::Outcome> const& outcomes,
                               double held_from) {
  Ranges r;
  r.temperature_limit = lowest_limit(c);
  detail::take_outcomes(outcomes, held_from, r);
  r.samples = r.simulated = outcomes.size();
  return r;
}
#endif

#if CURE_DEFINES(DECIDE)
namespace detail {

/// By as many samples as it takes, from those that are drawn on.
inline Ranges settled_ranges(Case const& c, Case const& job, uncertain::Stated const& stated,
                             Edges const& edges,
                             std::shared_ptr<uncertain::Draws const> const& drawn, std::size_t most,
                             std::size_t threads) {
  auto outcomes = uncertain::Samples(job, drawn).outcomes(threads);
  auto r = ranges_of(c, outcomes, edges.held_from);
  std::optional<MoreSamples> more;
  for (auto n = 2 * drawn->count(); n <= most && !settled(r.release_side); n *= 2) {
    if (n <= least_to_foretell) {
      auto found = uncertain::Samples(job, stated, n, outcomes.size(), threads).outcomes(threads);
      std::move(found.begin(), found.end(), std::back_inserter(outcomes));
      r = ranges_of(c, outcomes, edges.held_from);
      continue;
    }
    if (!more) more.emplace(c, job, stated, edges, outcomes, most, threads);
    r = ranges_of(c, more->outcomes(n), edges.held_from);
    r.simulated = more->simulated();
  }
  return r;
}

}  // namespace detail
#endif

/// Samples taken at first, and at most. A whole prediction each where the packed solver cannot
/// serve, as of a section: then 128, whose bound is their third latest or so.
struct SampleCount {
  std::size_t first = 256, most = 2048;
};

CURE_FUNCTION SampleCount sample_count(Case const& c);
#if CURE_DEFINES(DECIDE)
CURE_FUNCTION SampleCount sample_count(Case const& c) {
  return ensemble::packable(c) ? SampleCount{} : SampleCount{128, 128};
}
#endif

/// The ranges of a case. @param held_from from when the liner is held [s]
/// @throws InputError, SolverError
CURE_FUNCTION Ranges ranges(Case const& c, uncertain::Stated const& stated, double held_from,
                            SampleCount count, std::size_t threads = 0);
#if CURE_DEFINES(DECIDE)
CURE_FUNCTION Ranges ranges(Case const& c, uncertain::Stated const& stated, double held_from,
                            SampleCount count, std::size_t threads) {
  auto const job = detail::looked_at(c);
  auto const hold = process::planned_hold(job);
  auto const drawn = std::make_shared<uncertain::Draws const>(c, stated, count.first, 0, threads);
  detail::Edges const edges{held_from, hold ? hold->second : detail::infinite, lowest_limit(c)};
  Ranges r;
  if (detail::foretells_section(c, count.first)) {
    auto more = detail::of_section(c, job, stated, edges, drawn, threads);
    r = ranges_of(c, more.outcomes(count.first), held_from);
    r.simulated = more.simulated();
  } else {
    r = detail::settled_ranges(c, job, stated, edges, drawn, count.most, threads);
  }
  if (hold) r.look = hold->second - hold->first;
  detail::take_latest_in_place(c, stated, drawn, threads, r);
  r.seed = stated.seed;
  r.constants = stated.constants && c.uncertain_resin.known() && c.uncertain_resin.whole;
  r.source = in_words(stated, r.constants);
  return r;
}
#endif

}  // namespace cure::decide
