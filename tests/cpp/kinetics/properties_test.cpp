#include <gtest/gtest.h>

#include <cmath>

#include "cure/kinetics/batch.hpp"
#include "cure/kinetics/gelation.hpp"
#include "cure/kinetics/glass_transition.hpp"
#include "cure/kinetics/resin.hpp"
#include "cure/kinetics/viscosity.hpp"

namespace cure::kinetics {
namespace {

// alpha_gel = 1/sqrt(r (f-1)(g-1)) (Flory 1941; Stockmayer 1943), diepoxide with hardeners of 3 to
// 7 reactive hydrogens, and an isocyanate of mean functionality 2.7 with a triol.
TEST(FloryStockmayer, GelPointsOfCommonFunctionalities) {
  EXPECT_NEAR(flory_stockmayer_gel_point(3, 2), 0.70711, 5e-6);
  EXPECT_NEAR(flory_stockmayer_gel_point(4, 2), 0.57735, 5e-6);
  EXPECT_NEAR(flory_stockmayer_gel_point(5, 2), 0.50000, 5e-6);
  EXPECT_NEAR(flory_stockmayer_gel_point(6, 2), 0.44721, 5e-6);
  EXPECT_NEAR(flory_stockmayer_gel_point(7, 2), 0.40825, 5e-6);
  EXPECT_NEAR(flory_stockmayer_gel_point(2.7, 3), 0.54233, 5e-6);
  EXPECT_NEAR(flory_stockmayer_gel_point(4, 2, 0.8), 0.64550, 5e-6);
}

TEST(FloryStockmayer, RefusesMixesThatNeverGel) {
  EXPECT_THROW(flory_stockmayer_gel_point(2, 2), InputError);
  EXPECT_THROW(flory_stockmayer_gel_point(3, 2, 0.4), InputError);
  EXPECT_THROW(flory_stockmayer_gel_point(3, 2, 1.2), InputError);
  EXPECT_THROW(flory_stockmayer_gel_point(1.5, 4), InputError);
}

// Exact properties of the equation; lambda = 0.435 is an aerospace epoxy's (P. Hubert et al., SAMPE
// 2001, as transcribed), for which the fraction at alpha = 0.5 is 0.30314.
TEST(DiBenedetto, EndsAndMiddle) {
  DiBenedetto<double> const Tg{271.65, 516.15, 0.435};
  EXPECT_DOUBLE_EQ(Tg.at(0.0).value, 271.65);
  EXPECT_DOUBLE_EQ(Tg.at(1.0).value, 516.15);
  EXPECT_NEAR((Tg.at(0.5).value - 271.65) / 244.5, 0.30314, 5e-6);
  DiBenedetto<double> const linear{250.0, 350.0, 1.0};
  EXPECT_NEAR(linear.at(0.37).value, 287.0, 1e-12);
}

TEST(DiBenedetto, InverseUndoesIt) {
  DiBenedetto<double> const Tg{250.0, 370.0, 0.4};
  for (double const alpha : {0.0, 0.2, 0.55, 0.93, 1.0}) {
    EXPECT_NEAR(Tg.alpha_at(Tg.at(alpha).value), alpha, 1e-13);
  }
}

// Whatever the exponents, also such that the viscosity falls with cure.
TEST(Resin, NoneWarmerAndLessCuredIsFartherOn) {
  Resin<double> resin;
  resin.alpha_gel = 0.55;
  resin.working_limit.viscosity = 10.0;
  for (double const A : {-1.5, 0.0, 2.5}) {
    for (double const B : {-4.0, 0.0, 3.0}) {
      resin.viscosity = CastroMacosko<double>{1e-9, 5e4, A, B, resin.alpha_gel};
      for (double const T : {270.0, 290.0, 330.0}) {
        for (double const alpha : {0.0, 0.2, 0.5, 0.54, 0.6}) {
          double const most = resin.working_progress_at_most(T, alpha);
          for (double const warmer : {0.0, 3.0, 40.0}) {
            for (double const share : {0.0, 0.4, 0.8, 1.0}) {
              EXPECT_LE(resin.working_progress(T + warmer, share * alpha), most + 1e-12);
            }
          }
        }
      }
    }
  }
}

struct ViscositySet {
  char const* source;
  CastroMacosko<double> law;
  double celsius;
  double eta[4];  ///< at alpha = 0, 0.3, 0.5, 0.6 [Pa s]
};

// J.M. Castro, C.W. Macosko, AIChE J. 28, 250 (1982), two sets, and J. Appl. Polym. Sci. 62, 567
// (1996): constants as transcribed, primary tables not seen; values are arithmetic on them.
TEST(CastroMacosko, PublishedConstantSets) {
  double const none = 0.0;
  for (auto const& s : {
           ViscositySet{"1982 set 1",
                        {4.1e-8, 38.3e3, 4.0, -2.0, 0.85},
                        25,
                        {0.2104, 0.9243, 3.0136, 6.4739}},
           ViscositySet{"1982 set 1",
                        {4.1e-8, 38.3e3, 4.0, -2.0, 0.85},
                        60,
                        {0.0415, 0.1823, 0.5945, 1.2770}},
           ViscositySet{"1982 set 2",
                        {10.3e-8, 41.3e3, 1.5, 1.0, 0.65},
                        25,
                        {1.7729, 5.4027, 33.2913, 387.2290}},
           ViscositySet{"1982 set 2",
                        {10.3e-8, 41.3e3, 1.5, 1.0, 0.65},
                        60,
                        {0.3080, 0.9385, 5.7829, 67.2644}},
           ViscositySet{
               "1996", {3.32e-8, 42.9e3, 2.32, 1.4, 0.64}, 25, {1.0897, 6.1658, 107.3169, none}},
       }) {
    double const alpha[] = {0.0, 0.3, 0.5, 0.6};
    for (int i = 0; i < 4; ++i) {
      if (s.eta[i] == none) continue;
      EXPECT_NEAR(s.law.at(s.celsius + 273.15, alpha[i]), s.eta[i], 2e-3 * s.eta[i])
          << s.source << " at " << s.celsius << " degC, alpha " << alpha[i];
    }
  }
}

TEST(CastroMacosko, IsInfiniteFromTheGelPointOn) {
  CastroMacosko<double> const law{4.1e-8, 38.3e3, 4.0, -2.0, 0.85};
  EXPECT_TRUE(std::isinf(law.at(300.0, 0.85)));
  EXPECT_TRUE(std::isinf(law.at(300.0, 0.99)));
}

Resin<double> warm_resin() {
  Resin<double> r;
  r.rate = CureRate<double>(KamalSourour<double>{Arrhenius<double>::from_A(2.5e5, 58e3),
                                                 Arrhenius<double>::from_A(2e6, 56e3), 0.8, 1.6});
  r.heat_of_reaction = 400e3;
  r.density.reference = 1150.0;
  r.specific_heat.reference = 1800.0;
  return r;
}

// Energy balance: complete cure without loss heats the mix by H/c_p.
TEST(LumpedMass, AdiabaticRiseIsHeatOverHeatCapacity) {
  auto const r = warm_resin();
  auto const path = cure_lumped(r, {0.8, 0.0, 0.0, 293.0}, 293.0, {0.0}, 200000.0);
  for (std::size_t i = 0; i < path.times().size(); i += 7) {
    auto const s = path.state(i);
    EXPECT_NEAR(s[0] - 293.0, 400e3 / 1800.0 * s[1], 1e-5);
  }
  EXPECT_NEAR(path.state(path.times().size() - 1)[1], 1.0, 1e-3);
}

TEST(LumpedMass, WithoutReactionCoolsExponentially) {
  Resin<double> r = warm_resin();
  r.rate = CureRate<double>(NthOrder<double>{Arrhenius<double>::from_A(0.0, 0.0), 1.0});
  double const tau = 0.8 * 1800.0 / (8.0 * 0.06);
  auto const path = cure_lumped(r, {0.8, 0.06, 8.0, 280.0}, 310.0, {0.0}, 3.0 * tau);
  for (double const t : {0.4 * tau, tau, 2.7 * tau}) {
    double s[2];
    path.state_at(t, s);
    EXPECT_NEAR(s[0], 280.0 + 30.0 * std::exp(-t / tau), 1e-5);
  }
}

// N.N. Semenov's criterion for a lumped mass with zero-order heat release (Z. Phys. 48, 571, 1928):
// with psi = E Q_dot / (R T_a^2 h A), explosion above psi = 1/e. Depletion is made negligible by a
// vast heat of reaction; the finite R T_a/E moves the limit by about R T_a / E, here 3 %.
TEST(LumpedMass, ExplodesAboveSemenovsLimitOnly) {
  double const Ta = 300.0, E = 80e3, hA = 2.0;
  auto const runs_away = [&](double psi) {
    Resin<double> r = warm_resin();
    double const Q = psi * gas_constant * Ta * Ta * hA / E;  // [W] at T_a
    r.heat_of_reaction = 1e10;
    double const rate = Q / r.heat_of_reaction;
    r.rate = CureRate<double>(NthOrder<double>{Arrhenius<double>::centred(rate, E, Ta), 0.0});
    try {
      auto const path =
          cure_lumped(r, {1.0, 1.0, hA, Ta}, Ta, {0.0}, 30.0 * r.specific_heat.reference / hA);
      return path.state(path.times().size() - 1)[0] > Ta + 4.0 * gas_constant * Ta * Ta / E;
    } catch (SolverError const&) {
      return true;  // nothing is depleted, so an explosion has no end
    }
  };
  double const limit = 1.0 / std::exp(1.0);
  EXPECT_FALSE(runs_away(0.97 * limit));
  EXPECT_TRUE(runs_away(1.10 * limit));
}

}  // namespace
}  // namespace cure::kinetics
