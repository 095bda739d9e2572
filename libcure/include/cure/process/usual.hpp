#pragma once
/// Temperatures that sites have; others are asked about, as a number in °F may have been written.
/// Common practice, no source.

#include <array>

#include "cure/arithmetic.hpp"

namespace cure::process {

struct UsualTemperature {
  char const* name;
  double low, high;  ///< [°C]
};

/// Of ground and pipe the low side counts only where a unit may be another one: frozen ground has a
/// caution of its own.
inline constexpr std::array usual_temperatures{
    UsualTemperature{"ground", 0.0, 30.0}, UsualTemperature{"pipe", 0.0, 30.0},
    UsualTemperature{"resin", 0.0, 35.0}, UsualTemperature{"air", -15.0, 38.0}};

}  // namespace cure::process
