#pragma once
/// What rate laws are made of: k(T) times powers of alpha and 1 - alpha, with its partial
/// derivatives in one pass. `limit` is the diffusion control at the point; every rate constant
/// passes through it before it is used.
///
/// Outside 0 <= alpha < 1 the powers are continued by zero, but alpha^0 is 1.

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

}  // namespace cure::kinetics
