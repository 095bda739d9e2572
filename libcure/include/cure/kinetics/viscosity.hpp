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

  /// ln of the viscosity over that of 1 Pa s, at T [K] and alpha < alpha_gel [-].
  [[nodiscard]] Scalar log_at(Scalar const& T, Scalar const& alpha) const {
    return log_at(T, alpha, log(eta0));
  }
  /// The same by ln of the pre-factor, for whoever asks at many points.
  [[nodiscard]] Scalar log_at(Scalar const& T, Scalar const& alpha, Scalar const& log_eta0) const {
    return log_eta0 + E / Scalar(gas_constant) / T +
           (A + B * alpha) * log(alpha_gel / (alpha_gel - alpha));
  }

  /// Viscosity at T [K] and alpha [Pa s]; infinite from the gel point on.
  [[nodiscard]] Scalar at(Scalar const& T, Scalar const& alpha) const {
    if (!(alpha < alpha_gel)) return Scalar(std::numeric_limits<double>::infinity());
    return exp(log_at(T, alpha));
  }

  /// How far the resin is towards a viscosity limit: < 1 below it, >= 1 not. Logarithmic, so that
  /// it is smooth, and 2 at most, so that it is finite at the gel point too.
  /// @param log_limit ln of the limit over 1 Pa s
  [[nodiscard]] Scalar progress(Scalar const& T, Scalar const& alpha,
                                Scalar const& log_limit) const {
    return progress(T, alpha, log_limit, log(eta0));
  }
  [[nodiscard]] Scalar progress(Scalar const& T, Scalar const& alpha, Scalar const& log_limit,
                                Scalar const& log_eta0) const {
    auto const liquid = alpha < alpha_gel;
    Scalar const x =
        Scalar(1.0) +
        (log_at(T, select(liquid, alpha, Scalar(0.0)), log_eta0) - log_limit) / Scalar(20.0);
    return select(liquid, select(x < Scalar(2.0), x, Scalar(2.0)), Scalar(2.0));
  }

  bool operator==(CastroMacosko const&) const = default;
};

}  // namespace cure::kinetics
