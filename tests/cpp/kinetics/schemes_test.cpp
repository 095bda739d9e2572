#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <vector>

#include "cure/kinetics/batch.hpp"
#include "cure/kinetics/stiffness.hpp"

namespace cure::kinetics {
namespace {

using A = Arrhenius<double>;

Resin<double> with(CureRate<double> rate) {
  Resin<double> r;
  r.rate = std::move(rate);
  return r;
}

std::vector<double> state_at(numerics::Trajectory const& path, double t) {
  std::vector<double> x(path.width());
  path.state_at(t, x);
  return x;
}

InhibitedReaction<double> inhibited() {
  InhibitedReaction<double> r;
  r.reaction.law = Autocatalytic<double>{A::centred(1.5e-3, 5e4, 300.0), 0.7, 1.5};
  r.k_z = A::centred(1.0 / 1800.0, 5.5e4, 300.0);
  r.epsilon = 0.02;
  return r;
}

EpoxyAmine<double> epoxy_amine(double reactivity, double ether) {
  EpoxyAmine<double> r;
  r.k_0 = A::centred(2e-5, 7e4, 300.0);
  r.k_h = A::centred(6e-4, 5.6e4, 300.0);
  r.k_ether = A::centred(ether, 8e4, 300.0);
  r.reactivity = reactivity;
  r.hydrogens = 1.0;
  r.hydroxyl = 0.05;
  return r;
}

ParallelReactions<double> parallel() {
  ParallelReactions<double> r;
  r.branches = {{0.3, {NthOrder<double>{A::centred(1e-3, 4e4, 300.0), 1.0}, {}}},
                {0.5, {NthOrder<double>{A::centred(2e-4, 7e4, 300.0), 1.0}, {}}},
                {0.2, {NthOrder<double>{A::centred(5e-5, 9e4, 300.0), 1.0}, {}}}};
  return r;
}

// Isothermal, dz/dt = -k z/(z + eps) integrates to z + eps ln z = 1 - k t: induction, then decay.
TEST(Inhibited, InhibitorFollowsItsClosedForm) {
  auto const r = inhibited();
  auto const path = cure_isothermal(with(r), 300.0, r.initial(0.01), 4000.0);
  for (double const t : {300.0, 1200.0, 1700.0, 1900.0, 2000.0}) {
    double const z = state_at(path, t)[1];
    // A difference in z counts (1 + eps/z)-fold on the left.
    EXPECT_NEAR(z + 0.02 * std::log(z), 1.0 - t / 1800.0, 1e-7 * (1.0 + 0.02 / z)) << "t = " << t;
  }
}

// Eliminating time: alpha depends on the radicals that reached monomer. With m = n = 0 the rate is
// k eps/(z+eps), and k_z dalpha = -k eps dz/z gives alpha - alpha0 = (k/k_z) eps ln(1/z).
TEST(Inhibited, MonomerGetsWhatTheInhibitorLeaves) {
  auto r = inhibited();
  r.reaction.law = NthOrder<double>{A::centred(1e-4, 5e4, 300.0), 0.0};
  auto const path = cure_isothermal(with(r), 300.0, r.initial(0.01), 3000.0);
  for (double const t : {900.0, 1800.0, 2000.0}) {
    auto const x = state_at(path, t);
    EXPECT_NEAR(x[0] - 0.01, 1e-4 * 1800.0 * 0.02 * std::log(1.0 / x[1]), 1e-7);
  }
}

TEST(Inhibited, HoldsTheRateNearZeroUntilSpent) {
  auto const r = inhibited();
  auto const free = cure_isothermal(with(r.reaction), 300.0, {0.01}, 1500.0);
  auto const held = cure_isothermal(with(r), 300.0, r.initial(0.01), 1500.0);
  EXPECT_GT(state_at(free, 1500.0)[0], 0.2);
  EXPECT_LT(state_at(held, 1500.0)[0], 0.02);
}

// With equal reactivity, balanced groups and no ether the mechanism reduces to the Kamal-Sourour
// form (k1 + k2 alpha)(1-alpha)^2, with k1 = k_0 + k_h h0 and k2 = k_h (K. Horie et al. 1970).
TEST(EpoxyAmine, ReducesToKamalSourourForEqualReactivity) {
  auto const r = epoxy_amine(1.0, 0.0);
  auto const path = cure_isothermal(with(r), 300.0, r.initial(0.0), 40000.0);
  KamalSourour<double> const k{A::centred(2e-5 + 6e-4 * 0.05, 0.0, 300.0),
                               A::centred(6e-4, 0.0, 300.0), 1.0, 2.0};
  auto const same = cure_isothermal(with(CureRate<double>(k)), 300.0, {0.0}, 40000.0);
  for (double const t : {1000.0, 4000.0, 12000.0, 40000.0}) {
    EXPECT_NEAR(state_at(path, t)[0], state_at(same, t)[0], 1e-7);
  }
}

// Eliminating time between primary and secondary hydrogens (a linear equation ds/dp):
// s = (p^(rho/2) - p)/(2 - rho) for hydrogens = 1, whatever the catalysis (K. Horie et al. 1970).
TEST(EpoxyAmine, SecondaryAmineFollowsThePrimary) {
  for (double const rho : {0.3, 0.6, 1.2}) {
    auto const r = epoxy_amine(rho, 0.0);
    auto const path = cure_isothermal(with(r), 300.0, r.initial(0.0), 20000.0);
    for (double const t : {2000.0, 7000.0, 20000.0}) {
      auto const x = state_at(path, t);
      EXPECT_NEAR(x[2], (std::pow(x[1], 0.5 * rho) - x[1]) / (2.0 - rho), 1e-7);
      // Without ether each epoxide has taken one hydrogen.
      EXPECT_NEAR(x[0], 1.0 - x[1] - x[2], 1e-8);
    }
  }
}

TEST(EpoxyAmine, EtherificationLetsExcessEpoxideReact) {
  auto short_of_amine = epoxy_amine(1.0, 0.0);
  short_of_amine.hydrogens = 0.7;
  auto const no_ether =
      cure_isothermal(with(short_of_amine), 300.0, short_of_amine.initial(0.0), 3e5);
  EXPECT_NEAR(state_at(no_ether, 3e5)[0], 0.7, 1e-3);
  short_of_amine.k_ether = A::centred(2e-5, 8e4, 300.0);
  auto const ether = cure_isothermal(with(short_of_amine), 300.0, short_of_amine.initial(0.0), 3e5);
  EXPECT_GT(state_at(ether, 3e5)[0], 0.9);
}

TEST(Parallel, IndependentFirstOrderStepsAddUp) {
  auto const r = parallel();
  auto const path = cure_isothermal(with(r), 310.0, r.initial(0.0), 20000.0);
  for (double const t : {500.0, 5000.0, 20000.0}) {
    double sum = 0.0;
    for (auto const& b : r.branches) {
      double const k = std::get<NthOrder<double>>(b.reaction.law).k.at(310.0).value;
      sum += b.share * (1.0 - std::exp(-k * t));
    }
    EXPECT_NEAR(state_at(path, t)[0], sum, 1e-7);
  }
}

// W.I. Lee, A.C. Loos, G.S. Springer, J. Compos. Mater. 16, 510 (1982): constants as transcribed,
// primary table not seen; values computed from them with R = 8.314 by an independent integration.
TEST(TwoBranch, PublishedConstantsOfAGraphiteEpoxyResin) {
  TwoBranch<double> const law{A::from_A(3.5017e7, 8.07e4), A::from_A(-3.3567e7, 7.78e4),
                              A::from_A(3.2667e3, 5.66e4), 0.47, 0.3};
  struct Row {
    double celsius, minutes, alpha;
  };
  for (auto const& row : {Row{177, 5, 0.3900},
                          {177, 10, 0.5320},
                          {177, 30, 0.8379},
                          {150, 30, 0.5329},
                          {150, 60, 0.7451},
                          {125, 30, 0.2632},
                          {125, 120, 0.5984}}) {
    double const t = 60.0 * row.minutes;
    auto const path = cure_isothermal(with(CureRate<double>(law)), row.celsius + 273.15, {0.0}, t);
    EXPECT_NEAR(state_at(path, t)[0], row.alpha, 2e-3) << row.celsius << " degC";
  }
}

TEST(Blend, LiesBetweenItsPartsAndHasTheirMixedDerivatives) {
  SingleReaction<double> const slow{NthOrder<double>{A::centred(1e-4, 6e4, 300.0), 1.2}, {}};
  SingleReaction<double> const fast{NthOrder<double>{A::centred(9e-4, 5e4, 300.0), 1.6},
                                    ChernPoehlein<double>{30.0, -0.8, 0.0053}};
  BlendedReaction<double> const blend{{{0.25, slow}, {0.75, fast}}};
  for (double const alpha : {0.0, 0.3, 0.7}) {
    auto const p = blend.rate(295.0, alpha);
    EXPECT_NEAR(p.value,
                0.25 * slow.rate(295.0, alpha).value + 0.75 * fast.rate(295.0, alpha).value, 1e-18);
    double const e = 1e-6;
    EXPECT_NEAR(p.dalpha,
                (blend.rate(295.0, alpha + e).value - blend.rate(295.0, alpha - e).value) / (2 * e),
                1e-6 * (p.value + std::abs(p.dalpha)));
  }
}

TEST(CureRate, JacobianOfEverySchemeAgreesWithDifferences) {
  std::vector<std::pair<CureRate<double>, std::vector<double>>> const schemes{
      {inhibited(), {0.2, 0.3}},
      {epoxy_amine(0.6, 1e-5), {0.4, 0.5, 0.15}},
      {parallel(), {0.35, 0.6, 0.3}},
      {CureRate<double>(KamalSourour<double>{A::centred(1e-5, 6e4, 300.0),
                                             A::centred(5e-4, 5e4, 300.0), 0.8, 1.5}),
       {0.4}}};
  for (auto const& scheme : schemes) {
    auto const& rate = scheme.first;
    auto const& x = scheme.second;
    auto const n = rate.states();
    ASSERT_EQ(n, x.size());
    auto const j = rate.at(305.0, x.data());
    auto const slopes = [&](double T, std::vector<double> const& at) {
      std::vector<double> f(n);
      rate.slopes(T, at.data(), f.data());
      return f;
    };
    for (std::size_t k = 0; k <= n; ++k) {
      double const e = k == n ? 1e-3 : 1e-6;
      auto up = x, down = x;
      if (k < n) {
        up[k] += e;
        down[k] -= e;
      }
      auto const a = slopes(305.0 + (k == n ? e : 0.0), up);
      auto const b = slopes(305.0 - (k == n ? e : 0.0), down);
      for (std::size_t i = 0; i < n; ++i) {
        double const exact = k == n ? j.dT[i] : j.dx[i][k];
        EXPECT_NEAR(exact, (a[i] - b[i]) / (2 * e), 1e-6 * (std::abs(exact) + 1e-4));
      }
    }
  }
}

TEST(CureAlong, ARampIsTheSameAsItsHistory) {
  auto const r = with(CureRate<double>(NthOrder<double>{A::from_A(3e6, 6e4), 1.0}));
  // First order along any history: ln(1-alpha) = -integral of k dt; trapezoidal reference.
  numerics::Schedule const ramp({0.0, 1200.0, 2400.0}, {290.0, 350.0, 320.0});
  auto const path = cure_along(r, ramp, {0.0}, 2400.0);
  double integral = 0.0;
  int const n = 240000;
  for (int i = 0; i <= n; ++i) {
    double const t = 2400.0 * i / n;
    integral += (i == 0 || i == n ? 0.5 : 1.0) * 3e6 * std::exp(-6e4 / (gas_constant * ramp.at(t)));
  }
  EXPECT_NEAR(state_at(path, 2400.0)[0], 1.0 - std::exp(-integral * 2400.0 / n), 1e-7);
}

// Energy with a heat capacity that grows with temperature and falls with cure: adiabatically
// c0 [(T - Tr)(1 + a_alpha alpha) + a_T/2 (T - Tr)^2] = H alpha from Tr and alpha = 0.
TEST(LumpedMass, AdiabaticRiseWithVaryingHeatCapacity) {
  auto r = with(CureRate<double>(NthOrder<double>{A::from_A(3e6, 6e4), 1.0}));
  r.heat_of_reaction = 300e3;
  r.specific_heat = {1700.0, 2e-3, -0.1, 295.0};
  auto const path = cure_lumped(r, {1.0, 0.0, 0.0, 295.0}, 295.0, {0.0}, 20000.0);
  for (std::size_t i = 0; i < path.times().size(); i += 20) {
    auto const s = path.state(i);
    double const x = s[0] - 295.0;
    EXPECT_NEAR(1700.0 * (x * (1.0 - 0.1 * s[1]) + 1e-3 * x * x), 300e3 * s[1], 0.2);
  }
}

TEST(Modulus, RisesWithCureAndFallsThroughTheGlassTransition) {
  ModulusDevelopment<double> const E{3e9, 2e7, 4.0, 0.5, {250.0, 370.0, 0.4}};
  EXPECT_EQ(E.at(290.0, 0.5), 0.0);
  EXPECT_EQ(E.at(290.0, 0.2), 0.0);
  double before = 0.0;
  for (double alpha = 0.51; alpha <= 1.0; alpha += 0.01) {
    EXPECT_GT(E.at(290.0, alpha), before);
    before = E.at(290.0, alpha);
  }
  EXPECT_NEAR(E.at(250.0, 1.0), 3e9, 1e3);
  EXPECT_NEAR(E.at(470.0, 1.0), 2e7, 1e3);
  // Half-way down at Tg itself.
  EXPECT_NEAR(E.at(370.0, 1.0), 0.5 * (3e9 + 2e7), 1.0);
}

TEST(Shrinkage, CountsLinearlyFromTheGelPoint) {
  CureShrinkage<double> const s{0.06, 0.4};
  EXPECT_NEAR(s.at(0.5), 0.03, 1e-15);
  EXPECT_EQ(s.linear_after_gel(0.3), 0.0);
  EXPECT_NEAR(s.linear_after_gel(0.9), 0.06 * 0.5 / 3.0, 1e-15);
}

}  // namespace
}  // namespace cure::kinetics
