#pragma once
/// What a probe in the wall would read: the temperature at one place of the liner at given times,
/// for many rows of inputs that differ. Each row is one run of process::Simulation, the bladder
/// still in: a hold that would end at the release goes on to its full length here.

#include <algorithm>
#include <cstddef>
#include <exception>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/ensemble/row_plan.hpp"
#include "cure/numerics/maps.hpp"
#include "cure/process/place.hpp"
#include "cure/process/simulate.hpp"

namespace cure::ensemble {

/// Where a probe lies: a place of the liner, or the medium, what the liner would show if the probe
/// hung free beside it: the air before the liner is held, then the fill of the bladder.
using process::Place;

/// Temperature of the medium in a stage [K], `t` from its start [s].
inline double medium_temperature(process::Stage const& stage, double t) {
  using process::Held, process::AfterRelease;
  if (auto const* held = std::get_if<Held>(&stage)) return held->fill_temperature.at(t);
  if (auto const* after = std::get_if<AfterRelease>(&stage)) return after->bore_temperature.at(t);
  if (auto const* wet = std::get_if<process::WetOut>(&stage)) return wet->ambient.at(t);
  return std::get<process::MixedMass>(stage).ambient.at(t);
}

struct TracePlan : RowPlan {
  Place place = Place::outer_face;
  std::span<double const> times;  ///< from mixing, rising, not after the end of the hold [s]
  /// With these and the mesh of the accuracy "quick",
  /// whatever the case asks for, temperatures are right to some 0.2 K: less than a probe can tell.
  process::Tolerance tolerance{.temperature = 0.02, .alpha = 5e-5};
};

struct Traces {
  std::vector<double> temperature;  ///< row by row: [row * times + i] [K]; NaN in a row that failed
  std::vector<std::string> failure;  ///< of each row; empty for one that ran

  /// The temperatures (rows x times) where they stand.
  [[nodiscard]] numerics::RowMap temperatures() const {
    auto const times = failure.empty() ? 0 : temperature.size() / failure.size();
    return numerics::row_map(temperature, times, 0, times);
  }
};

/// As process::planned_hold. @throws InputError without a held stage
inline std::pair<double, double> needed_hold(Case const& c) {
  if (auto const hold = process::planned_hold(c)) return *hold;
  throw InputError("stages", "no held stage", "a stage in which the liner is held");
}

namespace detail {

/// The case up to `end` [s], the bladder not out for good.
inline void hold_until(Case& c, double end) {
  c = process::up_to_release(std::move(c));
  process::each<process::Held>(c, [](auto& held) { held.until_release = false; });
  double clock = 0.0;
  std::size_t count = 0;
  for (auto& stage : c.stages) {
    if (count > 0 && clock >= end) break;
    ++count;
    std::visit([&](auto& s) { s.duration = std::min(s.duration, std::max(end - clock, 1.0)); },
               stage);
    clock += process::duration(stage);
  }
  c.stages.resize(count);
}

inline void trace(TracePlan const& plan, std::size_t row, Traces& out) {
  auto const n = plan.times.size();
  auto const T = std::span(out.temperature).subspan(row * n, n);
  Case c;
  make_row(plan, row, c);
  c.discretisation = process::discretisation(process::Accuracy::quick);
  c.discretisation.tolerance = plan.tolerance;
  hold_until(c, plan.times.back());
  auto const history =
      process::Simulation(c).run([](auto const&) { return std::optional<double>(); });
  for (std::size_t i = 0; i < n && plan.place == Place::medium; ++i) {
    auto const s = process::detail::stage_at(history, plan.times[i]);
    T[i] = medium_temperature(c.stages[s], plan.times[i] - history[s].start);
  }
  if (plan.place == Place::medium) return;
  auto const found = process::at(history, plan.place, numerics::vector_map(plan.times));
  std::copy(found.T.begin(), found.T.end(), T.begin());
}

}  // namespace detail

/// All traces, in the order of the rows; the same to the bit for any number of threads.
/// @throws InputError for a plan that makes no sense; a row that fails says so
CURE_FUNCTION Traces traces(TracePlan const& plan);
#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION Traces traces(TracePlan const& plan) {
  if (plan.base->section) {
    throw InputError("section", "given", "a case in one dimension");
  }
  if (plan.place.part != process::Part::liner && plan.place != Place::medium) {
    throw InputError("place", "\"" + plan.place.name() + "\"", "a place of the liner, or medium");
  }
  detail::check_plan(plan);
  double const end = needed_hold(*plan.base).second;
  for (std::size_t i = 0; i < plan.times.size(); ++i) {
    double const t = plan.times[i];
    if (!(t >= (i == 0 ? 0.0 : plan.times[i - 1]) && t <= end)) {
      throw InputError("times[" + std::to_string(i) + "]", std::to_string(t) + " s",
                       "rising, from 0 to the end of the hold, " + std::to_string(end) + " s");
    }
  }
  Traces out;
  out.temperature.resize(plan.rows * plan.times.size(), std::numeric_limits<double>::quiet_NaN());
  out.failure.resize(plan.rows);
  if (plan.times.empty()) return out;
  detail::in_chunks(plan.rows, plan.threads, 1, [&] {
    return [&](std::size_t row, std::size_t) {
      try {
        detail::trace(plan, row, out);
      } catch (numerics::Stopped const&) {
        throw;
      } catch (std::exception const& e) {
        out.failure[row] = e.what();
      }
    };
  });
  return out;
}
#endif

}  // namespace cure::ensemble
