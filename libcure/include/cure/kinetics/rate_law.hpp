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
///                jumps at the switch, as published, and k2 may be negative; with a width above
///                0 one branch passes into the other by a logistic curve of alpha instead
///
/// All but TwoBranch also serve packs (see cell_rates.hpp).
///
/// Outside 0 <= alpha < 1 the powers are continued by zero, but alpha^0 is 1.

#include <variant>

#include "cure/kinetics/arrhenius.hpp"
#include "cure/scalar.hpp"

namespace cure::kinetics {

/// x > 0 with its logarithm and inverse; stand-ins keep a formula finite elsewhere.
template <class Scalar>
struct Base {
  decltype(Scalar(0.0) > Scalar(0.0)) positive;
  Scalar log, inverse;

  explicit Base(Scalar const& x) : positive(x > Scalar(0.0)) {
    using cure::log;
    Scalar const safe = select(positive, x, Scalar(1.0));
    this->log = log(safe);
    inverse = select(positive, Scalar(1.0) / safe, Scalar(0.0));
  }
};

/// k(T) times a shape in alpha, with its derivatives: by one exponential where `limit` is one
/// factor for the whole rate (it is then left to the caller), by two where it acts on k.
/// @param log_shape, relative_slope logarithm of the shape and its slope with alpha
/// @param inside where the shape is not zero
template <class Scalar, class Parameter, class Inside, class Limit>
Partial<Scalar> rate_term(Arrhenius<Parameter> const& k, Scalar const& T, Scalar const& log_shape,
                          Scalar const& relative_slope, Inside const& inside, Limit const& limit) {
  Scalar const zero(0.0);
  if constexpr (Limit::one_factor) {
    auto const r = k.times_exp(T, log_shape);
    return {select(inside, r.value, zero), select(inside, r.dT, zero),
            select(inside, r.value * relative_slope, zero)};
  } else {
    auto const ke = limit.apply(k.at(T));
    Scalar const shape = select(inside, exp(log_shape), zero);
    return {ke.value * shape, ke.dT * shape, shape * (ke.dalpha + ke.value * relative_slope)};
  }
}

/// k(T) (1-alpha)^n
template <class Scalar, class Parameter, class Limit>
Partial<Scalar> rate_term(Arrhenius<Parameter> const& k, Scalar const& T, Parameter const& n,
                          Base<Scalar> const& left, Limit const& limit) {
  Scalar const slope = -n * left.inverse;
  return rate_term(k, T, Scalar(n * left.log), slope, left.positive, limit);
}

/// k(T) alpha^m (1-alpha)^n
template <class Scalar, class Parameter, class Limit>
Partial<Scalar> rate_term(Arrhenius<Parameter> const& k, Scalar const& T, Parameter const& m,
                          Base<Scalar> const& alpha, Parameter const& n, Base<Scalar> const& left,
                          Limit const& limit) {
  Scalar const log_shape = m * alpha.log + n * left.log;
  Scalar const slope = m * alpha.inverse - n * left.inverse;
  auto const inside = left.positive & (alpha.positive | (Scalar(m) <= Scalar(0.0)));
  return rate_term(k, T, log_shape, slope, inside, limit);
}

template <class Scalar, class Limit>
Partial<Scalar> limited_once(Partial<Scalar> const& rate, Limit const& limit) {
  if constexpr (Limit::one_factor) {
    return limit.apply(rate);
  } else {
    return rate;
  }
}

template <class Parameter>
struct NthOrder {
  Arrhenius<Parameter> k;
  Parameter n{1.0};  ///< order [-]

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    Base<Scalar> const left(Scalar(1.0) - alpha);
    return limited_once(rate_term(k, T, n, left, limit), limit);
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
    Base<Scalar> const grown(alpha), left(Scalar(1.0) - alpha);
    return limited_once(rate_term(k, T, m, grown, n, left, limit), limit);
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
    Base<Scalar> const grown(alpha), left(Scalar(1.0) - alpha);
    auto const r1 = rate_term(k1, T, n, left, limit);
    auto const r2 = rate_term(k2, T, m, grown, n, left, limit);
    return limited_once(Partial<Scalar>{r1.value + r2.value, r1.dT + r2.dT, r1.dalpha + r2.dalpha},
                        limit);
  }
};

/// KamalSourour for m = 1, without the logarithm of alpha.
/// @tparam one_energy k1 and k2 have the same activation energy and reference temperature and pass
/// through `limit` as one factor: one exponential then serves both
template <bool one_energy, class Parameter, class Scalar, class Limit>
[[nodiscard]] Partial<Scalar> first_power_rate(KamalSourour<Parameter> const& law, Scalar const& T,
                                               Scalar const& alpha, Limit const& limit) {
  Scalar const zero(0.0), one(1.0);
  Base<Scalar> const left(one - alpha);
  auto const started = alpha >= zero;
  Scalar grown = select(started, alpha, zero);
  auto const r2 = rate_term(law.k2, T, law.n, left, limit);
  Scalar const slope = select(started, r2.value, zero);
  if constexpr (one_energy) {
    static_assert(Limit::one_factor);
    grown += Scalar(law.k1.k_ref / law.k2.k_ref);
    return limit.apply(Partial<Scalar>{r2.value * grown, r2.dT * grown, r2.dalpha * grown + slope});
  } else {
    auto const r1 = rate_term(law.k1, T, law.n, left, limit);
    return limited_once(Partial<Scalar>{r1.value + r2.value * grown, r1.dT + r2.dT * grown,
                                        r1.dalpha + r2.dalpha * grown + slope},
                        limit);
  }
}

template <class Parameter>
struct TwoBranch {
  Arrhenius<Parameter> k1, k2, k3;
  Parameter B{1.0};             ///< [-]
  Parameter alpha_switch{0.3};  ///< [-]
  double width = 0.0;           ///< of the passage between the branches; 0: a jump [-]

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    Scalar const left = Scalar(1.0) - alpha;
    if (!(left > Scalar(0.0))) return {};
    if (!(width > 0.0)) {
      return alpha > Scalar(alpha_switch) ? late(T, left, limit) : early(T, alpha, left, limit);
    }
    Scalar const x = (alpha - Scalar(alpha_switch)) * Scalar(1.0 / width);
    Scalar const s = Scalar(1.0) / (Scalar(1.0) + exp(-x));
    auto const a = early(T, alpha, left, limit), b = late(T, left, limit);
    Scalar const jump = b.value - a.value;
    return {
        a.value + s * jump, a.dT + s * (b.dT - a.dT),
        a.dalpha + s * (b.dalpha - a.dalpha) + s * (Scalar(1.0) - s) * Scalar(1.0 / width) * jump};
  }

 private:
  template <class Scalar, class Limit>
  Partial<Scalar> early(Scalar const& T, Scalar const& alpha, Scalar const& left,
                        Limit const& limit) const {
    auto const c1 = limit.apply(k1.at(T));
    auto const c2 = limit.apply(k2.at(T));
    Scalar const sum = c1.value + c2.value * alpha;
    Scalar const shape = left * (B - alpha);
    return {sum * shape, (c1.dT + c2.dT * alpha) * shape,
            (c1.dalpha + c2.dalpha * alpha + c2.value) * shape - sum * (left + (B - alpha))};
  }
  template <class Scalar, class Limit>
  Partial<Scalar> late(Scalar const& T, Scalar const& left, Limit const& limit) const {
    auto const c3 = limit.apply(k3.at(T));
    return {c3.value * left, c3.dT * left, c3.dalpha * left - c3.value};
  }
};

template <class Parameter>
using RateLaw = std::variant<NthOrder<Parameter>, Autocatalytic<Parameter>, KamalSourour<Parameter>,
                             TwoBranch<Parameter>>;

}  // namespace cure::kinetics
