#pragma once
/// Gel point of a step-growth network by Flory-Stockmayer (P.J. Flory, J. Am. Chem. Soc. 63, 3083,
/// 1941; W.H. Stockmayer, J. Chem. Phys. 11, 45, 1943), equal reactivity and no rings:
///   alpha_gel = 1 / sqrt(r (f - 1)(g - 1)),  alpha counted on the minority group, r <= 1.
/// Real systems gel somewhat later because rings form.

#include <string>

#include "cure/error.hpp"
#include "cure/scalar.hpp"

namespace cure::kinetics {

/// @param f functionality of one monomer, @param g of the other (both >= 2, one > 2)
/// @param r ratio of the reactive groups, minority over majority, 0 < r <= 1
/// @return degree of cure at the gel point [-]
/// @throws InputError when no gel can form at any conversion
inline double flory_stockmayer_gel_point(double f, double g, double r = 1.0) {
  auto const refuse = [](char const* field, double value, char const* allowed) {
    throw InputError(field, std::to_string(value), allowed);
  };
  if (!(f >= 2.0)) refuse("functionality f", f, "at least 2");
  if (!(g >= 2.0)) refuse("functionality g", g, "at least 2");
  if (!(r > 0.0 && r <= 1.0)) refuse("stoichiometric ratio r", r, "above 0, at most 1");
  double const product = r * (f - 1.0) * (g - 1.0);
  if (!(product > 1.0)) refuse("r (f-1)(g-1)", product, "above 1, or the mix never gels");
  return 1.0 / sqrt(product);
}

}  // namespace cure::kinetics
