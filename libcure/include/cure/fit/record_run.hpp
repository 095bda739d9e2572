#pragma once
/// From a calorimeter's record to a run as a fit takes it.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/fit/baseline.hpp"
#include "cure/fit/dsc.hpp"
#include "cure/fit/fit_run.hpp"
#include "cure/range.hpp"

namespace cure::fit {

/// One run of a calorimeter.
struct Record {
  std::vector<double> time;         ///< rising [s]
  std::vector<double> temperature;  ///< [K]
  std::vector<double> heat_flow;    ///< exotherm above 0 [W/kg]
  Windows windows;
  BaselineKind baseline = BaselineKind::tangential_sigmoidal;
  double total_heat = 0.0;  ///< heat of full cure, for a run that stops short; 0: its own [J/kg]
  double start = 0.0;       ///< when cure starts from the fresh mix [s]
};

/// Weight of each point of a run of so many, over its peak: whatever their number, a run counts as
/// ten independent values known to 2 % of its peak. An assumption of this project.
inline double run_weight(std::size_t points) {
  constexpr double counts_as = 10.0, known_to = 0.02;
  return std::sqrt(counts_as / static_cast<double>(points)) / known_to;
}

/// The part of a record from one point up to another, with its baseline drawn; weights of 1.
/// @param time rising [s], @param temperature [K], @param heat_flow [W/kg]: of the whole record
/// @param total_heat [J/kg]; 0: the run's own, @param start of cure [s]
/// @param tolerance of the programme, see fit::programme [K]
/// @throws InputError for windows that hold nothing, or no exotherm
inline FitRun run_of_part(std::span<double const> time, std::span<double const> temperature,
                          std::span<double const> heat_flow, std::size_t from, std::size_t to,
                          BaselineKind kind, Windows const& windows, double total_heat,
                          double start, double tolerance) {
  auto const inside = time.subspan(from, to - from);
  auto above = subtract_baseline(kind, inside, heat_flow.subspan(from, to - from), windows);
  double const total = total_heat > 0.0 ? total_heat : above.heat;
  for (auto& v : above.heat_flow) v /= total;
  for (auto& v : above.released) v /= total;
  FitRun run{programme(time, temperature, tolerance),
             start,
             {inside.begin(), inside.end()},
             std::move(above.baseline),
             std::move(above.heat_flow),
             std::move(above.released)};
  run.own_heat = !(total_heat > 0.0);
  run.peak = *std::max_element(run.rate.begin(), run.rate.end());
  run.heat = above.heat;
  run.total_heat = total;
  return run;
}

/// A record as a fit takes it, from its first window to its last.
/// @throws InputError for lists of other lengths, times that do not rise, windows that hold
/// nothing, or no exotherm
inline FitRun run_of(Record const& r) {
  auto const n = r.time.size();
  if (n < 8 || r.temperature.size() != n || r.heat_flow.size() != n) {
    throw InputError("record",
                     std::to_string(n) + " times, " + std::to_string(r.temperature.size()) +
                         " temperatures, " + std::to_string(r.heat_flow.size()) + " heat flows",
                     "as many of each, 8 or more");
  }
  for (std::size_t i = 1; i < n; ++i) {
    if (!(r.time[i] > r.time[i - 1])) {
      throw InputError("record.time[" + std::to_string(i) + "]", shown(r.time[i]) + " s",
                       "later than the one before");
    }
  }
  auto const& w = r.windows;
  bool const before =
      r.baseline != BaselineKind::level && r.baseline != BaselineKind::tangent_after;
  bool const after = r.baseline != BaselineKind::tangent_before;
  auto const begin = r.time.begin(), end = r.time.end();
  auto const from = before ? std::lower_bound(begin, end, w.left_from) : begin;
  auto const to = after ? std::upper_bound(begin, end, w.right_to) : end;
  auto const first = static_cast<std::size_t>(from - begin);
  auto const last = std::max(first, static_cast<std::size_t>(to - begin));
  auto run = run_of_part(r.time, r.temperature, r.heat_flow, first, last, r.baseline, w,
                         r.total_heat, r.start, 0.1);
  run.rate_weight = run.alpha_weight = run_weight(run.time.size());
  return run;
}

}  // namespace cure::fit
