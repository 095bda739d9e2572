#pragma once
/// What can be changed in a job, and the job with it changed. A change is a target that a crew can
/// set; everything else stays as it was planned.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <tuple>
#include <utility>
#include <variant>
#include <vector>

#include "cure/process/case.hpp"
#include "cure/process/conditions.hpp"
#include "cure/units.hpp"

namespace cure::advise {

using process::Case;

enum class Kind { resin_temperature, packer_temperature, shade, fill_temperature, hold, hardener };

/// What stands at nothing is as planned.
struct Changes {
  std::optional<std::size_t> hardener;  ///< which of Job::others
  std::optional<double> resin;          ///< temperature of the resin when mixed [K]
  std::optional<double> packer;         ///< [K]
  std::optional<double> fill;           ///< of the bladder, at its hottest [K]
  std::optional<double> hold;           ///< for how long the bladder is held [s]
  bool shade = false;                   ///< wet-out out of the sun

  bool operator==(Changes const&) const = default;
  /// An order for maps; not <=>, which optional values have not in every standard library.
  bool operator<(Changes const& b) const {
    return std::tie(hardener, resin, packer, fill, hold, shade) <
           std::tie(b.hardener, b.resin, b.packer, b.fill, b.hold, b.shade);
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
  a.shade = a.shade || b.shade;
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

template <class Stage>
Stage* find_stage(Case& c) {
  for (auto& stage : c.stages) {
    if (auto* s = std::get_if<Stage>(&stage)) return s;
  }
  return nullptr;
}
template <class Stage>
Stage const* find_stage(Case const& c) {
  for (auto const& stage : c.stages) {
    if (auto const* s = std::get_if<Stage>(&stage)) return s;
  }
  return nullptr;
}

}  // namespace detail

/// The fill at its hottest [K]: of a cycle the hottest of its legs.
inline double hottest_fill(process::Held const& held) {
  if (!held.cycle) return held.fill_temperature.max();
  double hottest = 0.0;
  for (auto const& leg : held.cycle->legs) hottest = std::max(hottest, leg.target);
  return hottest;
}

/// Another hottest temperature [K]: of a cycle its hottest legs, of a table all of it.
inline void set_hottest_fill(process::Held& held, double to) {
  double const from = hottest_fill(held);
  if (held.cycle) {
    for (auto& leg : held.cycle->legs) {
      if (leg.target == from) leg.target = to;
    }
    held.fill_temperature = heat::temperature_cycle(held.cycle->start, held.cycle->legs);
  } else if (held.fill_temperature.constant()) {
    held.fill_temperature = to;
  } else {
    held.fill_temperature = held.fill_temperature.scaled(1.0, to - from);
  }
}

/// For how long the liner is held [s]. The ground counts as far as that time reaches, where its
/// radius was not given.
inline void set_hold(Case& c, double seconds) {
  detail::find_stage<process::Held>(c)->duration = seconds;
  if (c.ground.radius_by_time) c.ground.radius = process::far_radius(c);
}

/// The job with changes. A hold as planned is left alone.
inline Case changed(Job const& job, Changes const& x) {
  auto c = x.hardener ? job.others.at(*x.hardener).job : job.planned;
  if (x.resin) c.initial.resin = *x.resin;
  if (x.packer) c.initial.packer = *x.packer;
  if (x.fill) set_hottest_fill(*detail::find_stage<process::Held>(c), *x.fill);
  if (x.hold) set_hold(c, *x.hold);
  if (x.shade) detail::find_stage<process::WetOut>(c)->absorbed_sun = 0.0;
  return c;
}

}  // namespace cure::advise
