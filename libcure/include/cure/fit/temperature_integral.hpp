#pragma once
/// The temperature integral of constant-rate heating,
///   p(x) = integral from x to infinity of exp(-u)/u^2 du = E2(x)/x,  x = E/(R T)
/// (e.g. S. Vyazovkin et al., Thermochim. Acta 520, 1, 2011, sec. 3), with E2 the exponential
/// integral of order two. A first-order reaction has -ln(1-alpha) = A E/(R beta) p(x).

#include <boost/math/special_functions/expint.hpp>
#include <cmath>
#include <string>

#include "cure/error.hpp"

namespace cure::fit {

/// p(x). @throws InputError unless 0 < x < 500
inline double temperature_integral(double x) {
  if (!(x > 0.0 && x < 500.0)) throw InputError("x", std::to_string(x), "above 0, below 500");
  return boost::math::expint(2U, x) / x;
}

/// -d ln p/dx, the factor D of the Ozawa/Flynn-Wall slope, exactly.
inline double temperature_integral_slope(double x) {
  return std::exp(-x) / (x * x * temperature_integral(x));
}

}  // namespace cure::fit
