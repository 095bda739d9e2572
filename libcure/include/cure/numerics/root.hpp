#pragma once
/// A zero of a function between two places of unlike sign (R.P. Brent, Algorithms for Minimization
/// without Derivatives, 1973, ch. 4): inverse quadratic interpolation or a secant where they
/// converge, halving where they do not. For functions that cost a simulation a call.

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "cure/arithmetic.hpp"

namespace cure::numerics {

/// @param f of unlike sign, or zero, at `a` and `b`
/// @param tolerance by which the place may be off, on either side
template <class F>
double brent_root(F const& f, double a, double b, double tolerance) {
  constexpr int most = 100;  // halving alone takes 50
  double last = a, now = b, other = a;
  double f_last = f(last), f_now = f(now), f_other = f_last;
  if (f_last == 0.0) return last;
  double step = 0.0, step_before = 0.0;
  for (int i = 0; i < most && f_now != 0.0; ++i) {
    if (f_last != 0.0 && std::signbit(f_last) != std::signbit(f_now)) {
      other = last;
      f_other = f_last;
      step = step_before = now - last;
    }
    if (std::abs(f_other) < std::abs(f_now)) {
      last = std::exchange(now, other);
      other = last;
      f_last = std::exchange(f_now, f_other);
      f_other = f_last;
    }
    double const delta =
        0.5 * (tolerance + 4.0 * std::numeric_limits<double>::epsilon() * std::abs(now));
    double const half = 0.5 * (other - now);
    if (std::abs(half) < delta) break;
    double tried = half;
    bool interpolated = false;
    if (std::abs(step_before) > delta && std::abs(f_now) < std::abs(f_last)) {
      if (last == other) {
        tried = -f_now * (now - last) / (f_now - f_last);
      } else {
        double const d_last = (f_last - f_now) / (last - now);
        double const d_other = (f_other - f_now) / (other - now);
        tried = -f_now * (f_other * d_other - f_last * d_last) /
                (d_other * d_last * (f_other - f_last));
      }
      interpolated =
          2.0 * std::abs(tried) < std::min(std::abs(step_before), 3.0 * std::abs(half) - delta);
    }
    step_before = interpolated ? step : half;
    step = interpolated ? tried : half;
    last = now;
    f_last = f_now;
    now += std::abs(step) > delta ? step : std::copysign(delta, half);
    f_now = f(now);
  }
  return now;
}

}  // namespace cure::numerics
