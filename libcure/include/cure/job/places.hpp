#pragma once
/// Places to compare a job with: what is likely there, and how far it may be off. Invented;
/// assumptions of this project, no source. Degrees Celsius and millimetres, as in a case document.

#include <algorithm>
#include <string>
#include <string_view>

#include "cure/error.hpp"
#include "cure/heat/ground.hpp"
#include "cure/units.hpp"

namespace cure::job {

/// A place and its season.
struct Place {
  char const *name, *title;
  double year_mean;   ///< of the ground [degC]
  double year_swing;  ///< of the ground's surface: half of the way from coldest to warmest [K]
  int day;            ///< of the year; the surface is coldest on day 25
  double ground_sd;   ///< [K]
  double depth;       ///< [mm]
  double air;         ///< [degC]
  char const* pipe;
  double bore;  ///< [mm]
  char const* water;

  /// Likely temperature at a depth [mm], in degC; under a floor the swing is small.
  [[nodiscard]] double ground_at(double depth_mm) const {
    // 0.33 to 0.64e-6 m2/s in three soils (validation/ground-stations and its like).
    constexpr double diffusivity = 5e-7, coldest_day = 25.0;
    auto const climate = heat::make_ground_climate(kelvin_from_celsius(year_mean), year_swing,
                                                   coldest_day, diffusivity);
    return celsius_from_kelvin(
        climate.temperature(std::max(depth_mm, 0.0) / 1e3, static_cast<double>(day)));
  }
};

inline constexpr Place places[] = {
    {"winter-road", "a drain under a road in winter", 10.0, 10.0, 35, 2.0, 1200.0, 3.0, "clay",
     150.0, "damp"},
    {"spring-garden", "a drain in a garden in spring or autumn", 10.0, 9.0, 110, 2.0, 1000.0, 12.0,
     "clay", 100.0, "damp"},
    {"summer-road", "a drain under a road in summer", 11.0, 10.0, 205, 2.0, 1200.0, 26.0, "clay",
     150.0, "damp"},
    {"house", "a drain in or under a house", 16.0, 1.0, 110, 2.5, 500.0, 18.0, "pvc", 100.0, "dry"},
    {"anywhere", "any drain at any season", 10.0, 0.0, 110, 4.0, 1200.0, 12.0, "pvc", 100.0,
     "damp"}};

/// @throws InputError that lists the names there are
inline Place const& find_place(std::string_view name) {
  std::string list;
  for (auto const& place : places) {
    if (place.name == name) return place;
    list += (list.empty() ? "" : ", ") + std::string(place.name);
  }
  throw InputError("like", "\"" + std::string(name) + "\"", "one of " + list);
}

}  // namespace cure::job
