#pragma once
/// Arrhenius temperature dependence of a rate constant,
///   k(T) = k_ref exp(-E/R (1/T - 1/T_ref)),
/// (S. Arrhenius, Z. Phys. Chem. 4, 226, 1889). With 1/T_ref = 0 it is the common k = A exp(-E/RT).
/// The centred form is the one to fit: k_ref and E are nearly uncorrelated when T_ref lies inside
/// the data (e.g. Schwaab & Pinto, Chem. Eng. Sci. 62, 2750, 2007).

#include "cure/scalar.hpp"
#include "cure/units.hpp"

namespace cure::kinetics {

template <class Parameter>
struct Arrhenius {
  Parameter k_ref{0.0};          ///< rate constant at T_ref, or A [1/s]
  Parameter E{0.0};              ///< activation energy [J/mol]
  Parameter inverse_T_ref{0.0};  ///< 1/T_ref [1/K]; 0 makes k_ref the pre-exponential factor A

  static Arrhenius from_A(Parameter A, Parameter E) { return {A, E, Parameter(0.0)}; }
  static Arrhenius centred(Parameter k_ref, Parameter E, Parameter T_ref) {
    return {k_ref, E, Parameter(1.0) / T_ref};
  }

  /// k and dk/dT at temperature T [K]; dk/dalpha is zero.
  template <class Scalar>
  [[nodiscard]] Partial<Scalar> at(Scalar const& T) const {
    return times_exp(T, Scalar(0.0));
  }

  /// k exp(x) and its derivative with T, by one exponential; x does not depend on T.
  template <class Scalar>
  [[nodiscard]] Partial<Scalar> times_exp(Scalar const& T, Scalar const& x) const {
    Scalar const inverse_T = Scalar(1.0) / T;
    Parameter const E_R = E * Parameter(1.0 / gas_constant);
    Scalar const k = k_ref * exp(x - E_R * (inverse_T - inverse_T_ref));
    return {k, k * E_R * inverse_T * inverse_T, Scalar(0.0)};
  }

  bool operator==(Arrhenius const&) const = default;
};

}  // namespace cure::kinetics
