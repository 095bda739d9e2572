#pragma once
/// The criteria's distances, as formulas for every scalar: negative before, not negative after.

#include "cure/scalar.hpp"

namespace cure::process {

/// Distance of a resin point from release [-]: cured to alpha_min, and glassy by a margin; the
/// nearer to failing decides. (This project's own criterion, see criteria.hpp.)
/// @param T, Tg of the point [K], @param margin Tg above T [K]
template <class Scalar>
Scalar release_distance(Scalar const& T, Scalar const& alpha, Scalar const& Tg,
                        Scalar const& alpha_min, Scalar const& margin) {
  Scalar const cured = alpha - alpha_min;
  // A kelvin weighs as much as a hundredth of cure.
  Scalar const glassy = (Tg - T - margin) * Scalar(0.01);
  return select(cured < glassy, cured, glassy);
}

}  // namespace cure::process
