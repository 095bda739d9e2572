#pragma once
/// Cure-rate laws, d(alpha)/dt = f(T, alpha) [1/s], each with its partial derivatives in one pass.
/// Every rate constant passes through the diffusion control before it is used.
///
/// NthOrder       k (1-alpha)^n
/// Autocatalytic  k alpha^m (1-alpha)^n   (truncated Sestak-Berggren, Thermochim. Acta 3, 1, 1971);
///                needs an initial degree of cure to start
/// KamalSourour   (k1 + k2 alpha^m)(1-alpha)^n   (M.R. Kamal, S. Sourour, Polym. Eng. Sci. 13, 59,
///                1973)
///
/// Outside 0 <= alpha <= 1 the powers are continued by zero (see positive_pow).

#include <cstddef>
#include <span>
#include <variant>

#include "cure/kinetics/arrhenius.hpp"
#include "cure/kinetics/diffusion.hpp"
#include "cure/scalar.hpp"

namespace cure::kinetics {

/// x^p and d(x^p)/dx; zero with zero slope for x <= 0.
template <class Scalar>
Partial<Scalar> power_and_slope(Scalar const& x, Scalar const& p) {
  if (!(x > Scalar(0.0))) return {p > Scalar(0.0) ? Scalar(0.0) : Scalar(1.0)};
  Scalar const y = pow(x, p);
  return {y, Scalar(0.0), p * y / x};
}

template <class Scalar>
struct NthOrder {
  Arrhenius<Scalar> k;
  Scalar n{1.0};  ///< order [-]

  template <class Diffusion>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Diffusion const& diffusion) const {
    auto const ke = diffusion.at(T, alpha).apply(k.at(T));
    auto const g = power_and_slope(Scalar(1.0) - alpha, n);
    return {ke.value * g.value, ke.dT * g.value, ke.dalpha * g.value - ke.value * g.dalpha};
  }
};

template <class Scalar>
struct Autocatalytic {
  Arrhenius<Scalar> k;
  Scalar m{1.0};  ///< exponent of alpha [-]
  Scalar n{1.0};  ///< exponent of 1 - alpha [-]

  template <class Diffusion>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Diffusion const& diffusion) const {
    auto const ke = diffusion.at(T, alpha).apply(k.at(T));
    auto const a = power_and_slope(alpha, m);
    auto const g = power_and_slope(Scalar(1.0) - alpha, n);
    Scalar const f = a.value * g.value;
    return {ke.value * f, ke.dT * f,
            ke.dalpha * f + ke.value * (a.dalpha * g.value - a.value * g.dalpha)};
  }
};

template <class Scalar>
struct KamalSourour {
  Arrhenius<Scalar> k1;
  Arrhenius<Scalar> k2;
  Scalar m{1.0};  ///< exponent of alpha [-]
  Scalar n{1.0};  ///< exponent of 1 - alpha [-]

  template <class Diffusion>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Diffusion const& diffusion) const {
    auto const limit = diffusion.at(T, alpha);
    auto const c1 = limit.apply(k1.at(T));
    auto const c2 = limit.apply(k2.at(T));
    auto const a = power_and_slope(alpha, m);
    auto const g = power_and_slope(Scalar(1.0) - alpha, n);
    Scalar const sum = c1.value + c2.value * a.value;
    return {sum * g.value, (c1.dT + c2.dT * a.value) * g.value,
            (c1.dalpha + c2.dalpha * a.value + c2.value * a.dalpha) * g.value - sum * g.dalpha};
  }
};

template <class Scalar>
using RateLaw = std::variant<NthOrder<Scalar>, Autocatalytic<Scalar>, KamalSourour<Scalar>>;

/// A rate law with its diffusion control.
template <class Scalar>
struct CureRate {
  RateLaw<Scalar> law;
  DiffusionControl<Scalar> diffusion;

  /// d(alpha)/dt [1/s] and its partial derivatives at one point; T in K.
  [[nodiscard]] Partial<Scalar> at(Scalar const& T, Scalar const& alpha) const {
    return std::visit([&](auto const& f, auto const& d) { return f.rate(T, alpha, d); }, law,
                      diffusion);
  }

  /// The same for many points: the kind of law is looked up once, not at each point.
  void at(std::span<Scalar const> T, std::span<Scalar const> alpha,
          std::span<Partial<Scalar>> rate) const {
    std::visit(
        [&](auto const& f, auto const& d) {
          for (std::size_t i = 0; i < rate.size(); ++i) rate[i] = f.rate(T[i], alpha[i], d);
        },
        law, diffusion);
  }
};

}  // namespace cure::kinetics
