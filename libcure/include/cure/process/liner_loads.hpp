#pragma once
/// What a liner that has just been let go must bear, as the modulus of its wall that just does.
///
/// Groundwater at a head H above the invert presses p = rho g H on a close-fitting ring of diameter
/// D and thickness t. It buckles at the lower of
///   p = E/(1 - nu^2) (t/D)^2.2                        (restrained ring: S. Glock, Der Stahlbau 46,
///                                                      212, 1977; formula from memory)
///   p = 2 K E C / ((1 - nu^2) (D/t - 1)^3)            (free ring, enhanced K = 7 times, ovality
///       C = ((1 - q)/(1 + q)^2)^3                      C: ASTM F1216, appendix X1.1)
/// Own weight: a ring that stands on its invert flattens by dD = 0.467 w R^4/(E I), w its weight
/// per area (W.C. Young, Roark's formulas; from memory), at most 5 % of its diameter, beyond which
/// a lining that lifted is to be repaired (common practice of inspection, no standard read).
/// Bladder drag: a pull along the pipe strains the wall by at most 0.2 % (assumption).

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "cure/process/case.hpp"

namespace cure::process {

inline constexpr double poisson_ratio = 0.3;  ///< of plastics pipe, as in ASTM F1216

/// Ovality reduction factor at (D_max - D_mean)/D_mean = q [-].
inline double ovality_factor(double q) {
  double const c = (1.0 - q) / ((1.0 + q) * (1.0 + q));
  return c * c * c;
}

/// Pressure over modulus at which a restrained ring buckles [-], ratio = D/t.
inline double restrained_ring(double ratio) {
  return std::pow(ratio, -2.2) / (1.0 - poisson_ratio * poisson_ratio);
}

/// Pressure over modulus at which a free ring, enhanced K times by its host, buckles [-].
inline double enhanced_ring(double ratio, double K, double ovality) {
  double const r = ratio - 1.0;
  return 2.0 * K * ovality_factor(ovality) / ((1.0 - poisson_ratio * poisson_ratio) * r * r * r);
}

/// Change of diameter of a ring on its invert under its own weight, times the modulus [Pa m].
/// @param weight per area [N/m2], @param radius, thickness [m]
inline double flattening_by_weight(double weight, double radius, double thickness) {
  double const I = thickness * thickness * thickness / 12.0;
  return 0.467 * weight * std::pow(radius, 4) / I;
}

struct LinerLoad {
  std::string what;
  double modulus = 0.0;  ///< of the wall, that just bears it [Pa]
};

inline std::vector<LinerLoad> liner_loads(Case const& c) {
  constexpr double gravity = 9.81, water = 1000.0;
  constexpr double enhancement = 7.0, ovality = 0.02, most_flattening = 0.05, most_strain = 2e-3;
  double const D = c.pipe.inner_diameter, t = c.liner.thickness, ratio = D / t;
  double const radius = 0.5 * (D - t);
  std::vector<LinerLoad> loads;
  if (c.release.bears.water_head > 0.0) {
    double const p = water * gravity * c.release.bears.water_head;
    double const bears =
        std::min(restrained_ring(ratio), enhanced_ring(ratio, enhancement, ovality));
    loads.push_back({"groundwater", p / bears});
  }
  double const weight = c.laminate().density * gravity * t;
  loads.push_back({"own weight", flattening_by_weight(weight, radius, t) / (most_flattening * D)});
  double const section = 2.0 * std::numbers::pi * radius * t;
  loads.push_back({"bladder drag", c.release.bears.pull / (section * most_strain)});
  return loads;
}

}  // namespace cure::process
