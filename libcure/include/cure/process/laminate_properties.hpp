#pragma once
/// Heat capacity and conductivity of the laminate as its resin warms and cures.
///
/// The wall solves for u, the temperature that the stored heat would give at the reference
/// capacity:
///   u - T_ref = (T - T_ref)(1 + a_alpha alpha) + a_T/2 (T - T_ref)^2
/// for a capacity C = C_ref (1 + a_T (T - T_ref) + a_alpha alpha), the heat of reaction counted at
/// T_ref. Energy C_ref u - S alpha is then linear in the state, and closes to round-off as with
/// constant properties. Resin mass stays where it is: density changes move the surface, not the
/// heat.

#include "cure/heat/material.hpp"
#include "cure/kinetics/resin.hpp"

namespace cure::process {

struct LaminateProperties {
  double T_ref = 293.15;        ///< [K]
  double capacity_T = 0.0;      ///< relative slope of the heat capacity with temperature [1/K]
  double capacity_alpha = 0.0;  ///< relative change of it over complete cure [-]
  double k_T = 0.0;             ///< relative slope of the conductivity with temperature [1/K]
  double k_alpha = 0.0;         ///< relative change of it over complete cure [-]

  [[nodiscard]] bool constant() const {
    return capacity_T == 0.0 && capacity_alpha == 0.0 && k_T == 0.0 && k_alpha == 0.0;
  }
  /// Heat capacity over the reference one [-].
  [[nodiscard]] double capacity_factor(double T, double alpha) const {
    return 1.0 + capacity_T * (T - T_ref) + capacity_alpha * alpha;
  }
  [[nodiscard]] double conductivity_factor(double T, double alpha) const {
    return 1.0 + k_T * (T - T_ref) + k_alpha * alpha;
  }
  [[nodiscard]] double u_of(double T, double alpha) const {
    double const x = T - T_ref;
    return T_ref + x * (1.0 + capacity_alpha * alpha) + 0.5 * capacity_T * x * x;
  }
  [[nodiscard]] double temperature(double u, double alpha) const {
    return T_ref + heat::rise(1.0 + capacity_alpha * alpha, capacity_T, u - T_ref);
  }
  /// dT/dalpha at constant u.
  [[nodiscard]] double temperature_dalpha(double T, double alpha) const {
    return -(T - T_ref) * capacity_alpha / capacity_factor(T, alpha);
  }
};

/// Variation of the laminate from that of its resin; the fibre's properties stay constant.
inline LaminateProperties laminate_properties(kinetics::Resin<double> const& resin,
                                              heat::Material const& neat,
                                              heat::Material const& fibre, double volume_fraction) {
  LaminateProperties p;
  p.T_ref = resin.specific_heat.T_ref;
  double const in_resin = (1.0 - volume_fraction) * neat.heat_capacity();
  double const share = in_resin / (in_resin + volume_fraction * fibre.heat_capacity());
  p.capacity_T = share * resin.specific_heat.a_T;
  p.capacity_alpha = share * resin.specific_heat.a_alpha;
  // How far a change of the resin's conductivity shows in the laminate's, to first order.
  auto const k = [&](double km) {
    return heat::transverse_conductivity(km, fibre.conductivity, volume_fraction);
  };
  double const e = 1e-4 * neat.conductivity;
  double const through = (k(neat.conductivity + e) - k(neat.conductivity - e)) / (2.0 * e) *
                         neat.conductivity / k(neat.conductivity);
  p.k_T = through * resin.conductivity.a_T;
  p.k_alpha = through * resin.conductivity.a_alpha;
  return p;
}

}  // namespace cure::process
