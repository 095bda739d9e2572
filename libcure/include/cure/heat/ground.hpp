#pragma once
/// Undisturbed ground temperature by depth and day of the year, and how far from a pipe the ground
/// may be taken as undisturbed.
///
/// A year's wave at the surface, damped and delayed with depth (T. Kusuda, P.R. Achenbach, ASHRAE
/// Trans. 71(1), 61, 1965; H.S. Carslaw, J.C. Jaeger, "Conduction of Heat in Solids", 2nd ed.,
/// 1959, sec. 2.6):
///   T(z, t) = T_mean - A exp(-z/d) cos(2 pi (t - t_min)/year - z/d),   d = sqrt(a year/pi)
/// The term z/d in the cosine is the delay with depth; some texts lose it.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <span>
#include <string>

#include "cure/error.hpp"

namespace cure::heat {

/// The year of the formula above, 365 days [s].
inline constexpr double year = 365.0 * 86400.0;

/// Depth at which a yearly wave has fallen to 1/e [m].
/// @param diffusivity [m2/s]
inline double damping_depth(double diffusivity) {
  return std::sqrt(diffusivity * year / std::numbers::pi);
}

struct GroundClimate {
  double mean = 0.0;            ///< of the surface over the year [K]
  double amplitude = 0.0;       ///< of the surface, half of warmest less coldest [K]
  double day_of_minimum = 0.0;  ///< of the surface, day 1 is 1 January [day]
  double diffusivity = 0.0;     ///< of the ground [m2/s]

  /// Undisturbed temperature [K] at a depth [m] on a day of the year (fractions allowed).
  [[nodiscard]] double temperature(double depth, double day) const {
    double const s = depth / damping_depth(diffusivity);
    double const angle = 2.0 * std::numbers::pi * (day - day_of_minimum) * 86400.0 / year;
    return mean - amplitude * std::exp(-s) * std::cos(angle - s);
  }
  /// Half of warmest less coldest at a depth [K].
  [[nodiscard]] double amplitude_at(double depth) const {
    return amplitude * std::exp(-depth / damping_depth(diffusivity));
  }
  /// Days by which a depth follows the surface [day].
  [[nodiscard]] double lag(double depth) const {
    return depth / damping_depth(diffusivity) * year / (2.0 * std::numbers::pi * 86400.0);
  }
};

/// @throws InputError when a value is outside what ground can have
inline GroundClimate make_ground_climate(double mean, double amplitude, double day_of_minimum,
                                         double diffusivity) {
  auto const refuse = [](char const* field, double value, char const* allowed) {
    throw InputError(field, std::to_string(value), allowed);
  };
  if (!(mean >= 223.15 && mean <= 323.15)) {
    refuse("ground annual mean [K]", mean, "223.15 to 323.15 (-50 to 50 degC)");
  }
  if (!(amplitude >= 0.0 && amplitude <= 50.0)) {
    refuse("ground amplitude [K]", amplitude, "0 to 50");
  }
  if (!(day_of_minimum >= 0.0 && day_of_minimum <= 366.0)) {
    refuse("ground day of minimum", day_of_minimum, "0 to 366");
  }
  // Dry peat to rock, with room on both sides.
  if (!(diffusivity >= 1e-8 && diffusivity <= 1e-5)) {
    throw InputError("ground diffusivity [mm2/s]", std::to_string(diffusivity * 1e6),
                     "0.01 to 10 (1e-8 to 1e-5 m2/s)");
  }
  return {mean, amplitude, day_of_minimum, diffusivity};
}

/// A climate and how far it is from the table it came from.
struct MonthlyFit {
  GroundClimate climate;
  double worst_month = 0.0;  ///< largest |fit - table| of any month [K]
};

/// Whether monthly means in degC look as if some were never filled in: four or more in a row, round
/// the year, are exactly 0. Common practice, no source: three may be whole degrees of a mild
/// winter.
inline bool looks_unfilled(std::span<double const> months) {
  std::size_t zeros = 0, most = 0;
  for (std::size_t i = 0; i < 2 * months.size(); ++i) {
    zeros = months[i % months.size()] == 0.0 ? zeros + 1 : 0;
    most = std::max(most, zeros);
  }
  return most >= 4;
}
inline constexpr char const* filled_months =
    "a mean of each month; exactly 0 four months in a row looks as if none were known";

/// First harmonic through twelve monthly mean surface temperatures, January first [K]. Only the
/// first harmonic is kept, since the second is damped sqrt(2) times as fast and the table's noise
/// faster still. A month's mean is a little flatter than the wave; the amplitude is corrected for
/// that.
/// @throws InputError
inline MonthlyFit fit_monthly(std::array<double, 12> const& month, double diffusivity) {
  constexpr double pi = std::numbers::pi;
  double mean = 0.0, c = 0.0, s = 0.0;
  for (std::size_t i = 0; i < 12; ++i) {
    if (!(month[i] >= 193.15 && month[i] <= 353.15)) {
      throw InputError("ground monthly[" + std::to_string(i) + "] [K]", std::to_string(month[i]),
                       "193.15 to 353.15 (-80 to 80 degC)");
    }
    double const angle = 2.0 * pi * (static_cast<double>(i) + 0.5) / 12.0;
    mean += month[i] / 12.0;
    c += month[i] * std::cos(angle) / 6.0;
    s += month[i] * std::sin(angle) / 6.0;
  }
  // The mean of a wave over 1/12 of its period, at the middle of it.
  double const flattened = std::sin(pi / 12.0) / (pi / 12.0);
  double const measured = std::hypot(c, s);
  // mean + c cos(x) + s sin(x) has its minimum where (cos, sin) is opposite to (c, s).
  double angle_min = std::atan2(-s, -c);
  if (angle_min < 0.0) angle_min += 2.0 * pi;
  MonthlyFit fit;
  fit.climate =
      make_ground_climate(mean, measured / flattened, angle_min / (2.0 * pi) * 365.0, diffusivity);
  for (std::size_t i = 0; i < 12; ++i) {
    double const angle = 2.0 * pi * (static_cast<double>(i) + 0.5) / 12.0;
    double const fitted = mean - measured * std::cos(angle - angle_min);
    fit.worst_month = std::max(fit.worst_month, std::abs(fitted - month[i]));
  }
  return fit;
}

/// Share by which a wall's temperature rise may be wrong when the ground ends, at its undisturbed
/// temperature, a distance L outside the wall. For a constant heat flow into plane ground (H.S.
/// Carslaw, J.C. Jaeger 1959, sec. 2.9, with images at 2 n L) the share is
///   2 sqrt(pi) sum_n (-1)^(n+1) ierfc(n L/sqrt(a t)) <= 2 sqrt(pi) ierfc(L/sqrt(a t)),
/// with ierfc(x) = exp(-x^2)/sqrt(pi) - x erfc(x). Around a pipe it is nearly the same: between 0.5
/// and 1.15 times this for shares of 0.3 to 0.003 (tested).
/// @param distance from the pipe's outer face to the far radius [m]
/// @param diffusivity [m2/s]
/// @param duration of the disturbance [s]
/// @returns share of the temperature rise of the pipe's outer face [-]
inline double far_radius_error(double distance, double diffusivity, double duration) {
  double const x = distance / std::sqrt(diffusivity * duration);
  double const root_pi = std::sqrt(std::numbers::pi);
  return std::max(0.0, 2.0 * (std::exp(-x * x) - root_pi * x * std::erfc(x)));
}

/// Least far radius [m] with far_radius_error <= error.
/// @param outer_radius of the host pipe [m]
/// @param error share of the temperature rise, above 0 and below 1 [-]
/// @throws InputError
inline double far_radius(double outer_radius, double diffusivity, double duration, double error) {
  if (!(error > 0.0 && error < 1.0)) {
    throw InputError("far radius error", std::to_string(error), "above 0 and below 1");
  }
  if (!(diffusivity > 0.0) || !(duration > 0.0)) {
    throw InputError("far radius",
                     "diffusivity " + std::to_string(diffusivity) + " m2/s, duration " +
                         std::to_string(duration) + " s",
                     "both above 0");
  }
  double low = 0.0, high = 8.0 * std::sqrt(diffusivity * duration);
  for (int i = 0; i < 60; ++i) {
    double const middle = 0.5 * (low + high);
    (far_radius_error(middle, diffusivity, duration) > error ? low : high) = middle;
  }
  return outer_radius + high;
}

}  // namespace cure::heat
