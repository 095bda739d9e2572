#pragma once
/// Cure-rate laws in one degree of cure, d(alpha)/dt = f(T, alpha) [1/s], each with its partial
/// derivatives in one pass. `limit` is the diffusion control at the point; every rate constant
/// passes through it before it is used.
///
/// NthOrder       k (1-alpha)^n
/// Autocatalytic  k alpha^m (1-alpha)^n   (truncated Sestak-Berggren, Thermochim. Acta 3, 1, 1971);
///                needs an initial degree of cure to start
/// KamalSourour   (k1 + k2 alpha^m)(1-alpha)^n   (M.R. Kamal, S. Sourour, Polym. Eng. Sci. 13, 59,
///                1973)
/// TwoBranch      (k1 + k2 alpha)(1-alpha)(B-alpha) for alpha <= alpha_switch, k3 (1-alpha) above
///                (W.I. Lee, A.C. Loos, G.S. Springer, J. Compos. Mater. 16, 510, 1982); the rate
///                jumps at the switch, as published, and k2 may be negative
///
/// Outside 0 <= alpha <= 1 the powers are continued by zero (see positive_pow).

#include <variant>

#include "cure/kinetics/arrhenius.hpp"
#include "cure/scalar.hpp"

namespace cure::kinetics {

/// x^p and d(x^p)/dx; zero with zero slope for x <= 0, but x^0 is 1.
template <class Scalar, class Parameter>
Partial<Scalar> power_and_slope(Scalar const& x, Parameter const& p) {
  if (!(x > Scalar(0.0))) return {p > Parameter(0.0) ? Scalar(0.0) : Scalar(1.0)};
  Scalar const y = pow(x, Scalar(p));
  return {y, Scalar(0.0), p * y / x};
}

template <class Parameter>
struct NthOrder {
  Arrhenius<Parameter> k;
  Parameter n{1.0};  ///< order [-]

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    auto const ke = limit.apply(k.at(T));
    auto const g = power_and_slope(Scalar(1.0) - alpha, n);
    return {ke.value * g.value, ke.dT * g.value, ke.dalpha * g.value - ke.value * g.dalpha};
  }
};

template <class Parameter>
struct Autocatalytic {
  Arrhenius<Parameter> k;
  Parameter m{1.0};  ///< exponent of alpha [-]
  Parameter n{1.0};  ///< exponent of 1 - alpha [-]

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    auto const ke = limit.apply(k.at(T));
    auto const a = power_and_slope(alpha, m);
    auto const g = power_and_slope(Scalar(1.0) - alpha, n);
    Scalar const f = a.value * g.value;
    return {ke.value * f, ke.dT * f,
            ke.dalpha * f + ke.value * (a.dalpha * g.value - a.value * g.dalpha)};
  }
};

template <class Parameter>
struct KamalSourour {
  Arrhenius<Parameter> k1;
  Arrhenius<Parameter> k2;
  Parameter m{1.0};  ///< exponent of alpha [-]
  Parameter n{1.0};  ///< exponent of 1 - alpha [-]

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    auto const c1 = limit.apply(k1.at(T));
    auto const c2 = limit.apply(k2.at(T));
    auto const a = power_and_slope(alpha, m);
    auto const g = power_and_slope(Scalar(1.0) - alpha, n);
    Scalar const sum = c1.value + c2.value * a.value;
    return {sum * g.value, (c1.dT + c2.dT * a.value) * g.value,
            (c1.dalpha + c2.dalpha * a.value + c2.value * a.dalpha) * g.value - sum * g.dalpha};
  }
};

template <class Parameter>
struct TwoBranch {
  Arrhenius<Parameter> k1, k2, k3;
  Parameter B{1.0};             ///< [-]
  Parameter alpha_switch{0.3};  ///< [-]

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    Scalar const left = Scalar(1.0) - alpha;
    if (!(left > Scalar(0.0))) return {};
    if (alpha > Scalar(alpha_switch)) {
      auto const c3 = limit.apply(k3.at(T));
      return {c3.value * left, c3.dT * left, c3.dalpha * left - c3.value};
    }
    auto const c1 = limit.apply(k1.at(T));
    auto const c2 = limit.apply(k2.at(T));
    Scalar const sum = c1.value + c2.value * alpha;
    Scalar const shape = left * (B - alpha);
    return {sum * shape, (c1.dT + c2.dT * alpha) * shape,
            (c1.dalpha + c2.dalpha * alpha + c2.value) * shape - sum * (left + (B - alpha))};
  }
};

template <class Parameter>
using RateLaw = std::variant<NthOrder<Parameter>, Autocatalytic<Parameter>, KamalSourour<Parameter>,
                             TwoBranch<Parameter>>;

}  // namespace cure::kinetics
