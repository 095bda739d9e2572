#pragma once
/// Heating, holding and cooling of a medium, as a table over time.

#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/numerics/schedule.hpp"

namespace cure::heat {

/// One leg of a heating cycle: go to a temperature at a steady rate, then stay.
struct CycleLeg {
  double target = 0.0;  ///< [K]
  double rate = 0.0;    ///< of heating or cooling, above 0 [K/s]
  double hold = 0.0;    ///< [s]

  bool operator==(CycleLeg const&) const = default;
};

/// Temperature of a medium through heating, holding and cooling down, e.g. the fill of a bladder:
/// {{338.15, 1.5/60, 7200}, {298.15, 0.5/60, 0}} is up to 65 degC at 1.5 K/min, two hours there,
/// down to 25 degC at 0.5 K/min.
/// @param start temperature [K] up to time `begin` [s]
/// @throws InputError
inline numerics::Schedule temperature_cycle(double start, std::span<CycleLeg const> legs,
                                            double begin = 0.0) {
  std::vector<double> time{begin}, value{start};
  auto const add = [&](double later, double T) {
    if (!(later > 0.0)) return;
    time.push_back(time.back() + later);
    value.push_back(T);
  };
  for (std::size_t i = 0; i < legs.size(); ++i) {
    auto const& leg = legs[i];
    auto const refuse = [&](char const* what, double x, char const* allowed) {
      throw InputError("cycle[" + std::to_string(i) + "]." + what, std::to_string(x), allowed);
    };
    if (!(leg.target > 0.0) || !std::isfinite(leg.target))
      refuse("target", leg.target, "above 0 K");
    if (!(leg.rate > 0.0) || !std::isfinite(leg.rate)) refuse("rate", leg.rate, "above 0 K/s");
    if (!(leg.hold >= 0.0) || !std::isfinite(leg.hold)) refuse("hold", leg.hold, "0 s or more");
    add(std::abs(leg.target - value.back()) / leg.rate, leg.target);
    add(leg.hold, leg.target);
  }
  return {std::move(time), std::move(value)};
}

}  // namespace cure::heat
