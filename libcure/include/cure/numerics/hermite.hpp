#pragma once
/// Cubic Hermite interpolation between two states with their slopes: the dense output of every
/// solve. Error O(h^4) (e.g. Hairer, Norsett & Wanner, "Solving Ordinary Differential Equations I",
/// 2nd ed., sec. II.6).

#include "cure/arithmetic.hpp"

namespace cure::numerics {

struct HermiteWeights {
  double y0, f0, y1, f1;
  [[nodiscard]] double operator()(double a, double fa, double b, double fb) const {
    return y0 * a + f0 * fa + y1 * b + f1 * fb;
  }
};

/// Weights of (y0, f0, y1, f1) at t, for a step from t0 to t1 > t0 [s].
constexpr HermiteWeights hermite_weights(double t0, double t1, double t) {
  double const h = t1 - t0;
  double const s = (t - t0) / h;
  double const r = 1.0 - s;
  return {(1.0 + 2.0 * s) * r * r, h * s * r * r, s * s * (3.0 - 2.0 * s), -h * s * s * r};
}

}  // namespace cure::numerics
