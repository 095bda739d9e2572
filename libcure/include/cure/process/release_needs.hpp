#pragma once
/// What must hold at every resin point, for good, before the bladder may come out. By mechanics:
///
///  gelled    alpha >= alpha_gel + 0.05: below the gel point a network bears no lasting load
///            (assumption for the margin).
///  glassy    Tg - T >= M(t), so that the resin creeps little over the time t that the load stays
///            before further cure has stiffened it. The mean relaxation time is 100 s at the Tg of
///            differential scanning calorimetry, and grows by half the slope of the WLF equation
///            at Tg, C1/(2 C2) = 0.169 decades a kelvin, since a glass ages out of equilibrium
///            (M.L. Williams, R.F. Landel, J.D. Ferry, J. Am. Chem. Soc. 77, 3701, 1955: C1
///            = 17.44, C2 = 51.6 K; from memory, as is the convention of 100 s). Tensile strength
///            and stiffness of a cold-curing epoxy develop only after the onset of vitrification
///            (O. Moussa et al., Int. J. Adhes. Adhes. 35, 9, 2012, abstract). A Tg by the onset of
///            the storage modulus stands some 10 K above that of calorimetry (from memory), so such
///            a model needs 10 K more.
///  loads     the laminate's modulus at time t, E(T - Tg + M(t)) of kinetics/stiffness.hpp, carries
///            each load of process/liner_loads.hpp times a factor. Across the fibres by the
///            equation of Halpin and Tsai with xi = 2 (from memory): fibres in a soft matrix carry
///            no bending, so the lower bound decides.
///
/// Each load comes to a least Tg - T as well, so the release is where alpha and Tg - T both
/// suffice. By conversion instead: the numbers that a resin's maker states.

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "cure/process/case.hpp"
#include "cure/process/liner_loads.hpp"

namespace cure::process {

/// One requirement and what it comes to.
struct Need {
  std::string what;         ///< "gelled", "glassy", "groundwater", "own weight", "bladder drag"
  double alpha = 0.0;       ///< least degree of cure [-]
  double Tg_margin = -1e3;  ///< least Tg - T [K]; infinite: no resin in this wall does it
  double modulus = 0.0;     ///< least modulus of the laminate, of loads [Pa]
};

struct ReleaseNeeds {
  double alpha_min = 0.0;  ///< [-]
  double Tg_margin = 0.0;  ///< [K]
  std::vector<Need> needs;

  /// The requirement that asks for most, of those on Tg - T.
  [[nodiscard]] Need const& hardest() const {
    return *std::max_element(needs.begin(), needs.end(), [](Need const& a, Need const& b) {
      return a.Tg_margin < b.Tg_margin;
    });
  }
};

/// Least Tg - T [K] at which the resin's mean relaxation time is `time` [s], 0 for less than 100 s.
inline double creep_margin(double time) {
  constexpr double at_Tg = 100.0, decades_per_kelvin = 17.44 / 51.6 / 2.0;
  return std::max(0.0, std::log10(time / at_Tg) / decades_per_kelvin);
}

namespace detail {

/// Modulus across the fibres [Pa] of a laminate, E_f the fibre's modulus.
inline double across_fibres(double matrix, double fibre, double volume_fraction) {
  double const eta = (fibre / matrix - 1.0) / (fibre / matrix + 2.0);
  return matrix * (1.0 + 2.0 * eta * volume_fraction) / (1.0 - eta * volume_fraction);
}

/// The matrix modulus that gives a laminate modulus across the fibres [Pa]: with eta put in, the
/// equation is 2(1 - V) m^2 + b m = L E_f (1 - V), b = E_f (1 + 2V) - L (2 + V).
inline double matrix_for(double laminate, double fibre, double volume_fraction) {
  double const V = volume_fraction, b = fibre * (1.0 + 2.0 * V) - laminate * (2.0 + V);
  double const right = laminate * fibre * (1.0 - V);
  // Of the two forms of the root the one that keeps its digits where the matrix is much the softer.
  return 2.0 * right / (b + std::sqrt(b * b + 8.0 * right * (1.0 - V)));
}

/// Least Tg - T [K] at which the resin has a modulus [Pa] after the time that `creep` stands for.
inline double margin_for(double modulus, double glass, double width, double creep) {
  if (!(modulus > 0.0)) return -1e3;
  if (!(glass > modulus)) return std::numeric_limits<double>::infinity();
  return creep - width * std::log(glass / modulus - 1.0);
}

}  // namespace detail

/// Assumptions, no source: usual for cured ambient resins where a model says nothing of its
/// modulus. The width makes the transition some 30 K wide, as ACI 440.2R-17 has it for
/// ambient-cured laminates.
inline constexpr double usual_glass_modulus = 2.4e9, usual_glass_width = 6.8;
/// Share of the glassy modulus that an undercured, wet resin is sure to have (assumption).
inline constexpr double sure_share_of_glass = 0.7;
inline constexpr double fibre_modulus = 72.5e9;  ///< E-glass (from memory) [Pa]
inline constexpr double gel_margin = 0.05;       ///< degree of cure past gelation (assumption) [-]

inline ReleaseNeeds release_needs(Case const& c) {
  ReleaseNeeds r;
  if (c.release.by == ReleaseBy::conversion) {
    r.needs = {{"cured", c.release.alpha_min}, {"glassy", 0.0, c.release.Tg_margin}};
  } else {
    double const creep = creep_margin(c.release.load_time) + c.resin.Tg_above_midpoint;
    r.needs = {{"gelled", std::min(c.resin.alpha_gel + gel_margin, 0.999)}, {"glassy", 0.0, creep}};
    double const glass =
        sure_share_of_glass * (c.resin.modulus ? c.resin.modulus->glass : usual_glass_modulus);
    double const width = c.resin.modulus ? c.resin.modulus->width : usual_glass_width;
    for (auto const& load : liner_loads(c)) {
      double const laminate = load.modulus * c.release.bears.factor;
      double const matrix =
          detail::matrix_for(laminate, fibre_modulus, c.liner.fibre_volume_fraction);
      r.needs.push_back(
          {load.what, 0.0, detail::margin_for(matrix, glass, width, creep), laminate});
    }
  }
  for (auto const& need : r.needs) r.alpha_min = std::max(r.alpha_min, need.alpha);
  r.Tg_margin = r.hardest().Tg_margin;
  return r;
}

}  // namespace cure::process
