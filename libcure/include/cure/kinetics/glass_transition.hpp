#pragma once
/// Glass-transition temperature against degree of cure, DiBenedetto's equation in the form of
/// Pascault & Williams (J. Polym. Sci. B 28, 85, 1990):
///   (Tg - Tg0) / (Tg_inf - Tg0) = lambda alpha / (1 - (1 - lambda) alpha)

#include "cure/scalar.hpp"

namespace cure::kinetics {

template <class Scalar>
struct DiBenedetto {
  Scalar Tg0{0.0};     ///< Tg of the uncured mix [K]
  Scalar Tg_inf{0.0};  ///< Tg at full cure [K]
  Scalar lambda{1.0};  ///< ratio of the heat-capacity steps, full cure to uncured [-]

  /// Tg and dTg/dalpha at degree of cure alpha; dTg/dT is zero.
  [[nodiscard]] Partial<Scalar> at(Scalar const& alpha) const {
    Scalar const denominator = Scalar(1.0) - (Scalar(1.0) - lambda) * alpha;
    Scalar const span = Tg_inf - Tg0;
    return {Tg0 + span * lambda * alpha / denominator, Scalar(0.0),
            span * lambda / (denominator * denominator)};
  }

  /// Degree of cure at which the glass transition is Tg [K].
  [[nodiscard]] Scalar alpha_at(Scalar const& Tg) const {
    Scalar const x = (Tg - Tg0) / (Tg_inf - Tg0);
    return x / (lambda + (Scalar(1.0) - lambda) * x);
  }
};

}  // namespace cure::kinetics
