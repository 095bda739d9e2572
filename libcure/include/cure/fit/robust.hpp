#pragma once
/// Robust losses. A residual r with loss c^2 rho((r/c)^2) is replaced by the number of the same
/// sign whose square is that loss, so that a plain least-squares solver minimises the robust sum.
/// The loss functions are those SciPy's least_squares documents (P.J. Huber, Ann. Math. Stat. 35,
/// 73, 1964, and B. Triggs et al., LNCS 1883, 298, 2000).

#include <cmath>

#include "cure/arithmetic.hpp"

namespace cure::fit {

enum class Loss { linear, soft_l1, huber, cauchy };

struct RobustResidual {
  double value = 0.0;
  double slope = 1.0;  ///< d(value)/d(residual)
};

/// @param c residual at which the loss starts to bend, above 0
inline RobustResidual robust(Loss loss, double r, double c) {
  double const z = (r / c) * (r / c);
  double rho = z, slope = 1.0;
  switch (loss) {
    case Loss::linear: return {r, 1.0};
    case Loss::soft_l1:
      slope = 1.0 / std::sqrt(1.0 + z);
      rho = 2.0 * z / (std::sqrt(1.0 + z) + 1.0);
      break;
    case Loss::huber:
      if (z <= 1.0) return {r, 1.0};
      slope = 1.0 / std::sqrt(z);
      rho = 2.0 * std::sqrt(z) - 1.0;
      break;
    case Loss::cauchy:
      slope = 1.0 / (1.0 + z);
      rho = std::log1p(z);
      break;
  }
  if (!(z > 1e-14)) return {r, 1.0};
  double const root = std::sqrt(rho);
  return {std::copysign(c * root, r), slope * std::sqrt(z) / root};
}

}  // namespace cure::fit
