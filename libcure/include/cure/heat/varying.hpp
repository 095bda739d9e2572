#pragma once
/// Heat capacity and conductivity that change with temperature, and the heat of freezing of the
/// water in wet ground.
///
/// Both are piecewise linear in temperature, constant beyond the last points given. A wall solves
/// for u, the temperature that the stored heat would give at the reference heat capacity,
///   du = C(T)/C_ref dT,   u = T at T_ref,
/// so that the energy C_ref u is linear in the state and closes to round-off.
///
/// Water that freezes between `start` and `start - range` gives off its heat of fusion there: an
/// apparent heat capacity (C. Bonacina, G. Comini, A. Fasano, M. Primicerio, Int. J. Heat Mass
/// Transfer 16, 1825, 1973; from memory), here a triangle over the range. Its area is the heat
/// itself, so no time step can jump over it.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/units.hpp"

namespace cure::heat {

/// Heat of fusion of water at 0 degC [J/kg] (R. Feistel, W. Wagner, J. Phys. Chem. Ref. Data 35,
/// 1021, 2006; from memory).
inline constexpr double heat_of_fusion = 333.43e3;

/// x with A x + s x^2/2 = heat: the rise of temperature by a heat over the reference capacity,
/// where the capacity is A + s x. Free of cancellation, also for s = 0.
inline double rise(double A, double s, double heat) {
  return 2.0 * heat / (A + std::sqrt(A * A + 2.0 * s * heat));
}

/// A factor over temperature [K]; the class is that of tables over time.
using Curve = numerics::Schedule;

class VaryingProperties {
 public:
  /// @param capacity,conductivity over those of the material at its reference [-], above 0
  /// @param T_ref where u = T [K]
  /// @throws InputError
  VaryingProperties(Curve capacity, Curve conductivity, double T_ref)
      : capacity_(std::move(capacity)), conductivity_(std::move(conductivity)) {
    for (auto const* curve : {&capacity_, &conductivity_}) {
      if (!(curve->min() > 0.0)) {
        throw InputError("factor over temperature", std::to_string(curve->min()), "above 0");
      }
    }
    auto const& T = capacity_.times();
    auto const& c = capacity_.values();
    u_.assign(T.size(), 0.0);
    for (std::size_t i = 1; i < T.size(); ++i) {
      u_[i] = u_[i - 1] + 0.5 * (c[i - 1] + c[i]) * (T[i] - T[i - 1]);
    }
    double const shift = T_ref - u_of(T_ref);
    for (auto& u : u_) u += shift;
  }

  [[nodiscard]] double capacity_factor(double T) const { return capacity_.at(T); }
  [[nodiscard]] double conductivity_factor(double T) const { return conductivity_.at(T); }

  [[nodiscard]] double u_of(double T) const {
    auto const i = segment(capacity_.times(), T);
    double const x = T - capacity_.times()[i];
    return u_[i] + x * (c(i) + 0.5 * slope(i, x) * x);
  }
  [[nodiscard]] double temperature(double u) const {
    auto const i = segment(u_, u);
    double const heat = u - u_[i];
    return capacity_.times()[i] + rise(c(i), slope(i, heat), heat);
  }

 private:
  /// The last knot not above x; 0 also below all of them.
  static std::size_t segment(std::vector<double> const& knots, double x) {
    auto const above = std::upper_bound(knots.begin(), knots.end(), x);
    return above == knots.begin() ? 0 : static_cast<std::size_t>(above - knots.begin()) - 1;
  }
  [[nodiscard]] double c(std::size_t i) const { return capacity_.values()[i]; }
  /// Slope of the capacity beyond knot i; none before the first and after the last.
  [[nodiscard]] double slope(std::size_t i, double beyond) const {
    auto const& T = capacity_.times();
    if (beyond < 0.0 || i + 1 == T.size()) return 0.0;
    return (c(i + 1) - c(i)) / (T[i + 1] - T[i]);
  }

  Curve capacity_, conductivity_;
  std::vector<double> u_;  ///< at the knots of the capacity [K]
};

/// Water in the ground that freezes in winter.
struct Freezing {
  double water = 0.0;           ///< that freezes, per volume of ground [kg/m3]
  double start = zero_celsius;  ///< warmest temperature at which there is ice [K]
  double range = 1.0;           ///< over which it freezes [K]
  double conductivity = 0.0;    ///< of frozen ground [W/(m K)]
  double specific_heat = 0.0;   ///< of frozen ground [J/(kg K)]

  bool operator==(Freezing const&) const = default;
};

/// Ground that freezes: from frozen to thawed across the range, with the heat of fusion in it.
/// @param conductivity,density,specific_heat of the thawed ground, the reference
/// @throws InputError
inline VaryingProperties freezing_properties(Freezing const& f, double conductivity, double density,
                                             double specific_heat) {
  if (!(f.water >= 0.0) || !(f.range > 0.0)) {
    throw InputError(
        "freezing",
        "water " + std::to_string(f.water) + " kg/m3, range " + std::to_string(f.range) + " K",
        "0 or more, and above 0");
  }
  double const C = density * specific_heat;
  double const cold = f.specific_heat / specific_heat;
  double const middle = 0.5 * (1.0 + cold) + 2.0 * heat_of_fusion * f.water / (C * f.range);
  double const low = f.start - f.range;
  return {Curve({low, f.start - 0.5 * f.range, f.start}, {cold, middle, 1.0}),
          Curve({low, f.start}, {f.conductivity / conductivity, 1.0}), f.start};
}

}  // namespace cure::heat
