#pragma once
/// What can be changed in a job, and the job with it changed. A change is a target that a crew can
/// set; everything else stays as it was planned.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <set>
#include <string>
#include <tuple>
#include <utility>
#include <variant>
#include <vector>

#include "cure/advise/procedures.hpp"
#include "cure/heat/temperature_cycle.hpp"
#include "cure/process/case.hpp"
#include "cure/process/conditions.hpp"
#include "cure/units.hpp"

namespace cure::advise {

/// What stands at nothing is as planned.
struct Changes {
  std::optional<std::size_t> hardener;  ///< which of Job::others
  std::optional<double> resin;          ///< temperature of the resin when mixed [K]
  std::optional<double> packer;         ///< [K]
  std::optional<double> fill;           ///< of the bladder, at its hottest [K]
  std::optional<double> hold;           ///< for how long the bladder is held [s]
  std::optional<double> in_place;       ///< from mixing until the liner is held [s]
  std::set<Kind> procedures;            ///< of advise::procedures, what is done

  bool operator==(Changes const&) const = default;
  /// An order for maps; not <=>, which optional values have not in every standard library.
  bool operator<(Changes const& b) const {
    return std::tie(hardener, resin, packer, fill, hold, in_place, procedures) <
           std::tie(b.hardener, b.resin, b.packer, b.fill, b.hold, b.in_place, b.procedures);
  }

  [[nodiscard]] bool none() const { return *this == Changes{}; }
};

/// Both; the second where both say something.
inline Changes together(Changes a, Changes const& b) {
  if (b.hardener) a.hardener = b.hardener;
  if (b.resin) a.resin = b.resin;
  if (b.packer) a.packer = b.packer;
  if (b.fill) a.fill = b.fill;
  if (b.hold) a.hold = b.hold;
  if (b.in_place) a.in_place = b.in_place;
  a.procedures.insert(b.procedures.begin(), b.procedures.end());
  return a;
}

/// The same job with another resin. Whole, because what a document leaves out may follow the resin.
struct OtherResin {
  std::string name;  ///< as a case names it: id or path
  Case job;
};

struct Job {
  Case planned;
  std::string resin;  ///< as the case names its own
  std::vector<OtherResin> others;
};

/// Degrees Celsius as somebody stated them: without the round-off of having been kelvins, so that
/// 12 is 12 when multiples of a step are counted from it.
inline double stated_celsius(double kelvin) {
  return std::round(1e9 * celsius_from_kelvin(kelvin)) / 1e9;
}

namespace detail {

inline double hottest_of(process::Held const& held) {
  if (!held.cycle) return held.fill_temperature.max();
  double hottest = 0.0;
  for (auto const& leg : held.cycle->legs) hottest = std::max(hottest, leg.target);
  return hottest;
}

}  // namespace detail

/// The fill at its hottest [K]: of a cycle the hottest of its legs.
inline double hottest_fill(Case const& c) {
  double hottest = 0.0;
  process::each<process::Held>(
      c, [&](auto const& held) { hottest = std::max(hottest, detail::hottest_of(held)); });
  return hottest;
}

/// Another hottest temperature [K], and each stage as far from it as it was: of a cycle its hottest
/// legs, of a table all of it.
inline void set_hottest_fill(Case& c, double to) {
  double const hottest = hottest_fill(c);
  process::each<process::Held>(c, [&](process::Held& held) {
    double const from = detail::hottest_of(held);
    double const next = from == hottest ? to : from + (to - hottest);
    if (held.cycle) {
      for (auto& leg : held.cycle->legs) {
        if (leg.target == from) leg.target = next;
      }
      held.fill_temperature = heat::temperature_cycle(held.cycle->start, held.cycle->legs);
    } else if (held.fill_temperature.constant()) {
      held.fill_temperature = next;
    } else {
      held.fill_temperature = held.fill_temperature.scaled(1.0, next - from);
    }
  });
}

/// For how long the liner is held in all [s]: by its last stage. The ground counts as far as that
/// time reaches, where its radius was not given.
inline void set_hold(Case& c, double seconds) {
  auto const last = process::held_stages(c)->second;
  auto& held = std::get<process::Held>(c.stages[last]);
  held.duration = seconds - (process::planned_start(c, last) - process::planned_hold(c)->first);
  if (c.ground.radius_by_time) c.ground.radius = process::far_radius(c);
}

/// When the liner is held [s from mixing]: all that comes before gets shorter alike, by half
/// minutes but for the last of it.
inline void set_in_place(Case& c, double seconds) {
  double const planned = process::planned_hold(c)->first;
  double left = seconds;
  for (std::size_t i = 0; !std::holds_alternative<process::Held>(c.stages[i]); ++i) {
    bool const last = std::holds_alternative<process::Held>(c.stages[i + 1]);
    std::visit(
        [&](auto& s) {
          s.duration = last ? left : 30.0 * std::round(s.duration * seconds / planned / 30.0);
          left -= s.duration;
        },
        c.stages[i]);
  }
}

/// The job with changes. A hold as planned is left alone.
inline Case changed(Job const& job, Changes const& x) {
  auto c = x.hardener ? job.others.at(*x.hardener).job : job.planned;
  if (x.resin) c.initial.resin = *x.resin;
  if (x.packer) c.initial.packer = *x.packer;
  if (x.fill) set_hottest_fill(c, *x.fill);
  if (x.hold) set_hold(c, *x.hold);
  for (auto const kind : x.procedures) procedure(kind).make(c);
  if (x.in_place) set_in_place(c, *x.in_place);
  return c;
}

}  // namespace cure::advise
