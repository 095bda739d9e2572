#pragma once
/// Glass-transition temperature against degree of cure, DiBenedetto's equation in the form of
/// Pascault & Williams (J. Polym. Sci. B 28, 85, 1990):
///   (Tg - Tg0) / (Tg_inf - Tg0) = lambda alpha / (1 - (1 - lambda) alpha)

#include "cure/scalar.hpp"

namespace cure::kinetics {

template <class Parameter>
struct DiBenedetto {
  Parameter Tg0{0.0};     ///< Tg of the uncured mix [K]
  Parameter Tg_inf{0.0};  ///< Tg at full cure [K]
  Parameter lambda{1.0};  ///< ratio of the heat-capacity steps, full cure to uncured [-]

  /// Tg and dTg/dalpha at degree of cure alpha; dTg/dT is zero.
  template <class Scalar>
  [[nodiscard]] Partial<Scalar> at(Scalar const& alpha) const {
    Scalar const denominator = Scalar(1.0) - (Parameter(1.0) - lambda) * alpha;
    Parameter const span = Tg_inf - Tg0;
    return {Tg0 + span * lambda * alpha / denominator, Scalar(0.0),
            span * lambda / (denominator * denominator)};
  }

  /// Degree of cure at which the glass transition is Tg [K].
  [[nodiscard]] Parameter alpha_at(Parameter const& Tg) const {
    Parameter const x = (Tg - Tg0) / (Tg_inf - Tg0);
    return x / (lambda + (Parameter(1.0) - lambda) * x);
  }

  bool operator==(DiBenedetto const&) const = default;
};

}  // namespace cure::kinetics
