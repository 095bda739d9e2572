#pragma once
/// Activation energies from peak temperatures Tp at heating rates beta:
/// - kissinger: ln(beta/Tp^2) = ln(A R/E) - E/(R Tp) (H.E. Kissinger, Anal. Chem. 29, 1702, 1957)
/// - e698: log10(beta) over 1/Tp by Ozawa and Flynn-Wall; the slope is -E D/(R ln 10), with D = 1 +
///   2/x, x = E/(R T), iterated (the procedure of ASTM E698; its D from memory);
///   A = beta E exp(E/RT)/(R T^2) at the middle of the runs

#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "cure/error.hpp"
#include "cure/fit/regression.hpp"
#include "cure/units.hpp"

namespace cure::fit {

struct PeakResult {
  double E = 0.0;             ///< [J/mol]
  double E_half_width = 0.0;  ///< half width of its 95 % interval [J/mol]; NaN with two runs
  double A = 0.0;             ///< [1/s]
  double r_squared = 0.0;
  double D = 1.0;  ///< the slope factor that the iteration ended with
};

namespace detail {
/// Nothing that is cured reacts measurably outside these; degrees Celsius mostly lie below.
inline constexpr double coldest = 250.0, hottest = 1500.0;  // K

inline void check_temperature(char const* field, double T) {
  if (T >= coldest && T <= hottest) return;
  throw InputError(field, std::to_string(T) + " K",
                   "250 to 1500 K; are the temperatures in degC? Add 273.15");
}

inline void check_peaks(std::span<double const> beta, std::span<double const> Tp) {
  if (beta.size() != Tp.size() || beta.size() < 2) {
    throw InputError("peaks", std::to_string(beta.size()), "two or more heating rates with peaks");
  }
  for (std::size_t i = 0; i < beta.size(); ++i) {
    if (!(beta[i] > 0.0)) throw InputError("heating rate", std::to_string(beta[i]), "above 0 K/s");
    check_temperature("peak", Tp[i]);
  }
}
inline void check_slope(double slope) {
  if (!(slope < 0.0)) {
    throw InputError("peaks", "temperatures that do not rise with the heating rate",
                     "peaks at higher temperature for faster heating");
  }
}
}  // namespace detail

/// @param beta [K/s], @param Tp [K]
inline PeakResult kissinger(std::span<double const> beta, std::span<double const> Tp) {
  detail::check_peaks(beta, Tp);
  std::vector<double> x(Tp.size()), y(Tp.size());
  for (std::size_t i = 0; i < x.size(); ++i) {
    x[i] = 1.0 / Tp[i];
    y[i] = std::log(beta[i] / (Tp[i] * Tp[i]));
  }
  auto const line = regress(x, y);
  detail::check_slope(line.slope);
  double const E = -gas_constant * line.slope;
  return {E, gas_constant * line.slope_half_width, std::exp(line.intercept) * E / gas_constant,
          line.r_squared, 1.0};
}

/// @param beta [K/s], @param Tp [K]
inline PeakResult e698(std::span<double const> beta, std::span<double const> Tp) {
  detail::check_peaks(beta, Tp);
  auto const n = static_cast<double>(Tp.size());
  std::vector<double> x(Tp.size()), y(Tp.size());
  double middle = 0.0, rate = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    x[i] = 1.0 / Tp[i];
    y[i] = std::log(beta[i]);
    middle += x[i] / n;
    rate += y[i] / n;
  }
  auto const line = regress(x, y);
  detail::check_slope(line.slope);
  double const T = 1.0 / middle, beta_middle = std::exp(rate);
  double D = 1.05, E = 0.0;
  for (int i = 0; i < 100; ++i) {
    double const next = -line.slope * gas_constant / D;
    if (std::abs(next - E) <= 1e-12 * next) break;
    E = next;
    D = 1.0 + 2.0 * gas_constant * T / E;
  }
  return {E, gas_constant * line.slope_half_width / D,
          beta_middle * E * std::exp(E / (gas_constant * T)) / (gas_constant * T * T),
          line.r_squared, D};
}

}  // namespace cure::fit
