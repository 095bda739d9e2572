#pragma once
/// The number types that formulas are written for: double, Pack (numerics/pack.hpp: several cases
/// side by side), and Dual, a number that carries its exact derivatives (forward-mode automatic
/// differentiation; e.g. Griewank & Walther, "Evaluating Derivatives", 2nd ed., SIAM 2008, ch. 3).
/// A formula that is a template on Scalar uses the unqualified functions below and serves each of
/// them; where packs go too it chooses with select, not with if.

#include <array>
#include <cmath>
#include <concepts>
#include <cstddef>

#include "cure/arithmetic.hpp"

namespace cure {

using std::abs;
using std::exp;
using std::log;
using std::pow;
using std::sqrt;

/// A value with its derivatives with respect to N chosen inputs.
template <std::size_t N>
struct Dual {
  double value{};
  std::array<double, N> derivative{};

  constexpr Dual() = default;
  constexpr Dual(double v) : value(v) {}  // NOLINT(google-explicit-constructor): a constant is one
  /// The input number `index`, which has derivative 1 with respect to itself.
  static constexpr Dual variable(double v, std::size_t index) {
    Dual x(v);
    x.derivative[index] = 1.0;
    return x;
  }

  constexpr Dual& operator+=(Dual const& o) { return *this = *this + o; }
  constexpr Dual& operator-=(Dual const& o) { return *this = *this - o; }
  constexpr Dual& operator*=(Dual const& o) { return *this = *this * o; }
  constexpr Dual& operator/=(Dual const& o) { return *this = *this / o; }

  friend constexpr Dual operator+(Dual const& a, Dual const& b) {
    return chain(a.value + b.value, a, 1.0, b, 1.0);
  }
  friend constexpr Dual operator-(Dual const& a, Dual const& b) {
    return chain(a.value - b.value, a, 1.0, b, -1.0);
  }
  friend constexpr Dual operator*(Dual const& a, Dual const& b) {
    return chain(a.value * b.value, a, b.value, b, a.value);
  }
  friend constexpr Dual operator/(Dual const& a, Dual const& b) {
    return chain(a.value / b.value, a, 1.0 / b.value, b, -a.value / (b.value * b.value));
  }
  // Plain factors have no derivative to carry.
  friend constexpr Dual operator*(double a, Dual const& b) { return chain(a * b.value, b, a); }
  friend constexpr Dual operator*(Dual const& a, double b) { return b * a; }
  friend constexpr Dual operator/(double a, Dual const& b) {
    double const inverse = 1.0 / b.value;
    return chain(a * inverse, b, -a * inverse * inverse);
  }
  friend constexpr Dual operator-(Dual const& a) { return chain(-a.value, a, -1.0); }
  friend constexpr bool operator<(Dual const& a, Dual const& b) { return a.value < b.value; }
  friend constexpr bool operator>(Dual const& a, Dual const& b) { return a.value > b.value; }
  friend constexpr bool operator<=(Dual const& a, Dual const& b) { return a.value <= b.value; }
  friend constexpr bool operator>=(Dual const& a, Dual const& b) { return a.value >= b.value; }

  friend Dual exp(Dual const& a) {
    double const e = std::exp(a.value);
    return chain(e, a, e);
  }
  friend Dual log(Dual const& a) { return chain(std::log(a.value), a, 1.0 / a.value); }
  friend Dual sqrt(Dual const& a) {
    double const s = std::sqrt(a.value);
    return chain(s, a, 0.5 / s);
  }
  friend Dual abs(Dual const& a) { return a.value < 0.0 ? -a : a; }
  /// a^b for a > 0.
  friend Dual pow(Dual const& a, Dual const& b) {
    double const p = std::pow(a.value, b.value);
    return chain(p, a, b.value * p / a.value, b, p * std::log(a.value));
  }

 private:
  static constexpr Dual chain(double v, Dual const& a, double da) {
    Dual r(v);
    for (std::size_t i = 0; i < N; ++i) r.derivative[i] = da * a.derivative[i];
    return r;
  }
  static constexpr Dual chain(double v, Dual const& a, double da, Dual const& b, double db) {
    Dual r(v);
    for (std::size_t i = 0; i < N; ++i) {
      r.derivative[i] = da * a.derivative[i] + db * b.derivative[i];
    }
    return r;
  }
};

/// The plain number inside a scalar.
constexpr double value_of(double x) { return x; }
template <std::size_t N>
constexpr double value_of(Dual<N> const& x) {
  return x.value;
}

/// One of two values by a comparison; packs choose lane by lane.
template <class Scalar>
constexpr Scalar select(bool first, Scalar const& a, Scalar const& b) {
  return first ? a : b;
}

/// x^p for x > 0, continued by zero for x <= 0, so that a trial point just outside the range of a
/// degree of cure gives no reaction instead of a NaN.
template <class Scalar>
Scalar positive_pow(Scalar const& x, Scalar const& p) {
  return x > Scalar(0.0) ? pow(x, p) : Scalar(0.0);
}

/// A value and its two partial derivatives, returned in one pass so that exponentials are shared.
template <class Scalar>
struct Partial {
  Scalar value{0.0};
  Scalar dT{0.0};
  Scalar dalpha{0.0};
};

}  // namespace cure
