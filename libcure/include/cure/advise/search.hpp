#pragma once
/// Looks for the smallest change that does it: a scan of all round values, then a bracketed root.
///
/// The scan by ensembles finds every stretch of values that meets the need, also where more is not
/// always better. Near its answer whole predictions decide, and Brent's method closes in on the
/// edge. The answer is the value after the first that does it, so that the job still holds when the
/// crew misses it by a step.

#include <algorithm>
#include <cstddef>
#include <iterator>
#include <optional>
#include <vector>

#include "cure/advise/levers.hpp"
#include "cure/numerics/root.hpp"

namespace cure::advise {

/// How closely the edge is known [K].
inline constexpr double edge_width = 0.01;

/// What a search came to; values of the lever [K].
struct Found {
  /// Nearest to the start that does it, as the one before it does, on the conservative sides too
  /// where known.
  std::optional<double> value;
  std::optional<double> middle;    ///< the same by the middle values alone
  std::optional<double> edge;      ///< where the middle values begin to do it
  std::optional<double> works_to;  ///< farthest, without a gap, at which they still do it
  /// Where none does it: the nearest value that meets the time, but harms otherwise, is not sure,
  /// or has no reserve.
  std::optional<double> harmful;
  double best_time = 0.0;  ///< that the scan saw [s]: latest moment in place, or release
  double best_at = 0.0;
};

namespace detail {

/// The last index, by halving, at which something still holds that holds at `low` and no more at
/// `high`.
template <class Holds>
std::ptrdiff_t turns(Holds const& holds, std::ptrdiff_t low, std::ptrdiff_t high) {
  while (high - low > 1) {
    auto const middle = (low + high) / 2;
    (holds(middle) ? low : high) = middle;
  }
  return low;
}

/// The first index that is sure, taking that those after it are; the steps double, then halve.
template <class Sure>
std::optional<std::ptrdiff_t> surely(Sure const& sure, std::ptrdiff_t first, std::ptrdiff_t last) {
  std::ptrdiff_t low = first - 1, high = first, step = 1;
  while (!sure(high)) {
    if (high == last) return std::nullopt;
    low = high;
    high = std::min(high + step, last);
    step *= 2;
  }
  return turns([&](std::ptrdiff_t i) { return !sure(i); }, low, high) + 1;
}

/// Where room turns from negative to not negative, on the side where it is not.
template <class Room>
double edge(Room const& room, double before, double value) {
  // The start itself, when another need was the reason to look.
  if (room(before) >= 0.0) return before;
  if (room(value) == 0.0) return value;
  double at = numerics::brent_root(room, before, value, edge_width);
  // The root may lie on either side of the edge by its tolerance.
  double const inwards = value > before ? edge_width : -edge_width;
  while (room(at) < 0.0 && (value - at) * inwards > 0.0) at += inwards;
  return value > before ? std::min(at, value) : std::max(at, value);
}

}  // namespace detail

/// Turns a lever away from its start until a need is met, on top of other changes.
/// @param trials runs jobs: scan(base, lever, need) has the latest moment in place, or the release,
/// at each value of the lever [s]; meets(changes, time, need) whether that will do; room(changes,
/// need) by how much middle values meet it, negative when they do not; in_time(changes, need) and
/// cool(changes) whether the conservative sides do
/// @param lever that has values
/// @param need working (and nothing gets too hot), or release
template <class Trials>
Found look(Trials& trials, Changes const& base, Lever const& lever, Need need) {
  auto const values = lever.values();
  auto const at = [&](std::ptrdiff_t i) { return values[static_cast<std::size_t>(i)]; };
  auto const turned = [&](std::ptrdiff_t i) { return lever.turned(base, at(i)); };
  auto const room = [&](double value) { return trials.room(lever.turned(base, value), need); };
  auto const timely = [&](std::ptrdiff_t i) { return trials.in_time(turned(i), need); };
  auto const cool = [&](std::ptrdiff_t i) { return trials.cool(turned(i)); };

  std::vector<double> const times = trials.scan(base, lever, need);
  auto const meets = [&](std::ptrdiff_t i) {
    return trials.meets(turned(i), times[static_cast<std::size_t>(i)], need);
  };
  auto const best = need == Need::working ? std::max_element(times.begin(), times.end())
                                          : std::min_element(times.begin(), times.end());
  Found found;
  found.best_time = *best;
  found.best_at = at(std::distance(times.begin(), best));

  auto const count = std::ssize(values);
  std::ptrdiff_t first = 0;
  while (first < count && !(meets(first) && room(at(first)) >= 0.0)) ++first;
  if (first == count) {
    for (std::ptrdiff_t i = 0; i < count && !found.harmful; ++i) {
      if (meets(i)) found.harmful = at(i);
    }
    return found;
  }
  found.edge = detail::edge(room, first > 0 ? at(first - 1) : lever.start, at(first));
  auto last = first;
  while (last + 1 < count && meets(last + 1)) ++last;
  if (room(at(last)) < 0.0) {  // the scan does not see what gets too hot
    last = detail::turns([&](std::ptrdiff_t i) { return room(at(i)) >= 0.0; }, first, last);
  }
  found.works_to = at(last);
  found.middle = at(std::min(first + 1, last));

  // Time on the conservative side gets better along the lever, its heat may get better or worse.
  auto const sure = detail::surely(timely, first, last);
  auto sure_and_cool = sure;
  if (sure && !cool(*sure)) {
    sure_and_cool = need == Need::working ? detail::surely(cool, *sure, last) : std::nullopt;
  }
  auto nearest = sure.value_or(first);
  if (sure_and_cool) {
    nearest = std::min(*sure_and_cool + 1, last);
    if (nearest > *sure_and_cool && timely(nearest) && cool(nearest)) found.value = at(nearest);
  }
  if (!found.value) found.harmful = at(nearest);
  return found;
}

}  // namespace cure::advise
