#pragma once
/// Viscosity up to the gel point by J.M. Castro & C.W. Macosko (AIChE J. 28, 250, 1982):
///   eta = eta0 exp(E/RT) (alpha_gel / (alpha_gel - alpha))^(A + B alpha),  alpha < alpha_gel

#include <limits>

#include "cure/scalar.hpp"
#include "cure/units.hpp"

namespace cure::kinetics {

template <class Scalar>
struct CastroMacosko {
  Scalar eta0{0.0};       ///< pre-factor [Pa s]
  Scalar E{0.0};          ///< flow activation energy [J/mol]
  Scalar A{0.0};          ///< [-]
  Scalar B{0.0};          ///< [-]
  Scalar alpha_gel{1.0};  ///< degree of cure at the gel point [-]

  /// Viscosity at T [K] and alpha [Pa s]; infinite from the gel point on.
  [[nodiscard]] Scalar at(Scalar const& T, Scalar const& alpha) const {
    if (!(alpha < alpha_gel)) return Scalar(std::numeric_limits<double>::infinity());
    Scalar const growth = pow(alpha_gel / (alpha_gel - alpha), A + B * alpha);
    return eta0 * exp(E / (Scalar(gas_constant) * T)) * growth;
  }
};

}  // namespace cure::kinetics
