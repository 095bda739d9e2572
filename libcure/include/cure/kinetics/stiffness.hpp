#pragma once
/// Stiffness and shrinkage that develop with cure.
///
/// Modulus: below the gel point the resin carries no lasting load. Beyond it the modulus rises from
/// rubber to glass as the temperature falls through the glass transition,
///   E = E_rubber(alpha) + (E_glass - E_rubber(alpha)) / (1 + exp((T - Tg(alpha)) / width)),
///   E_rubber(alpha) = E_rubber,inf ((alpha^2 - alpha_gel^2)/(1 - alpha_gel^2))^(8/3)
/// The glass step is the cure-hardening form of T.A. Bogetti & J.W. Gillespie (J. Compos. Mater.
/// 26, 626, 1992) made smooth in T - Tg; the rubbery law is D. Adolf & J.E. Martin's (J. Compos.
/// Mater. 30, 13, 1996). Both references from memory.
///
/// Shrinkage: volume shrinks in proportion to the degree of cure (first order; common practice,
/// no source), of which only the part after gelation pulls the liner from the
/// wall.

#include <cmath>

#include "cure/kinetics/glass_transition.hpp"
#include "cure/scalar.hpp"

namespace cure::kinetics {

template <class Parameter>
struct ModulusDevelopment {
  Parameter glass{0.0};      ///< modulus far below Tg [Pa]
  Parameter rubber{0.0};     ///< rubbery modulus at full cure [Pa]
  Parameter width{5.0};      ///< width of the glass transition [K]
  Parameter alpha_gel{0.5};  ///< [-]
  DiBenedetto<Parameter> glass_transition;

  /// Modulus at T [K] and alpha [Pa]; zero up to the gel point.
  template <class Scalar>
  [[nodiscard]] Scalar at(Scalar const& T, Scalar const& alpha) const {
    if (!(alpha > Scalar(alpha_gel))) return Scalar(0.0);
    Scalar const network =
        (alpha * alpha - alpha_gel * alpha_gel) / (Parameter(1.0) - alpha_gel * alpha_gel);
    Scalar const rubbery = rubber * positive_pow(network, Scalar(8.0 / 3.0));
    Scalar const x = (T - glass_transition.at(alpha).value) / width;
    bool const hot = x > Scalar(0.0);
    Scalar const e = exp(hot ? -x : x);
    Scalar const glassy = (hot ? e : Scalar(1.0)) / (Scalar(1.0) + e);
    return rubbery + (glass - rubbery) * glassy;
  }

  bool operator==(ModulusDevelopment const&) const = default;
};

template <class Parameter>
struct CureShrinkage {
  Parameter total{0.0};      ///< volume shrinkage of complete cure [-]
  Parameter alpha_gel{0.5};  ///< [-]

  /// Volume shrinkage since mixing [-].
  template <class Scalar>
  [[nodiscard]] Scalar at(Scalar const& alpha) const {
    return total * alpha;
  }
  /// Linear shrinkage since gelation, that a liner held at its ends must take up [-].
  template <class Scalar>
  [[nodiscard]] Scalar linear_after_gel(Scalar const& alpha) const {
    Scalar const after = alpha - alpha_gel;
    return after > Scalar(0.0) ? total * after / Scalar(3.0) : Scalar(0.0);
  }

  bool operator==(CureShrinkage const&) const = default;
};

/// A property of the reacting resin that is linear in temperature and cure:
///   p = p_ref (1 + a_T (T - T_ref) + a_alpha alpha)
template <class Parameter>
struct LinearProperty {
  Parameter reference{0.0};  ///< value at T_ref, uncured
  Parameter a_T{0.0};        ///< relative change per kelvin [1/K]
  Parameter a_alpha{0.0};    ///< relative change over complete cure [-]
  Parameter T_ref{293.15};   ///< [K]

  template <class Scalar>
  [[nodiscard]] Scalar at(Scalar const& T, Scalar const& alpha) const {
    return reference * (Parameter(1.0) + a_T * (T - T_ref) + a_alpha * alpha);
  }

  bool operator==(LinearProperty const&) const = default;
};

}  // namespace cure::kinetics
