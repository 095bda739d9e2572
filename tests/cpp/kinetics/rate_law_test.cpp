#include "cure/kinetics/cure_rate.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "cure/kinetics/batch.hpp"
#include "cure/kinetics/cell_rates.hpp"

namespace cure::kinetics {
namespace {

template <class S>
std::vector<SingleReaction<S>> every_combination() {
  auto const k = Arrhenius<S>::from_A(S(1.2e5), S(5.6e4));
  auto const k2 = Arrhenius<S>::centred(S(3e-4), S(5.2e4), S(300.0));
  DiBenedetto<S> const Tg{S(240.0), S(360.0), S(0.4)};
  std::vector<RateLaw<S>> const laws{NthOrder<S>{k, S(1.7)}, Autocatalytic<S>{k, S(0.6), S(1.4)},
                                     KamalSourour<S>{k, k2, S(0.9), S(1.6)},
                                     TwoBranch<S>{k, k2, k, S(0.9), S(0.3)},
                                     AutocatalysedNthOrder<S>{k, S(1.3), S(25.0)}};
  std::vector<DiffusionControl<S>> const controls{ChemicalControl{},
                                                  ChernPoehlein<S>{S(30.0), S(-0.8), S(0.0053)},
                                                  Rabinowitch<S>{S(2e-3), S(40.2), S(51.6), Tg}};
  std::vector<SingleReaction<S>> all;
  for (auto const& law : laws) {
    for (auto const& control : controls) all.push_back({law, control});
  }
  return all;
}

TEST(RateLaw, PartialDerivativesAgreeWithDualNumbers) {
  using D = Dual<2>;
  auto const plain = every_combination<double>();
  auto const dual = every_combination<D>();
  for (std::size_t i = 0; i < plain.size(); ++i) {
    for (double const T : {275.0, 290.0, 315.0}) {
      for (double const alpha : {0.02, 0.4, 0.71, 0.9}) {
        auto const p = plain[i].rate(T, alpha);
        auto const d = dual[i].rate(D::variable(T, 0), D::variable(alpha, 1));
        double const scale = std::abs(p.value);
        EXPECT_NEAR(p.value, d.value.value, 1e-14 * scale) << i;
        EXPECT_NEAR(p.dT, d.value.derivative[0], 1e-11 * scale) << i;
        EXPECT_NEAR(p.dalpha, d.value.derivative[1], 1e-10 * (scale + std::abs(p.dalpha))) << i;
      }
    }
  }
}

TEST(RateLaw, PartialDerivativesAgreeWithFiniteDifferences) {
  for (auto const& rate : every_combination<double>()) {
    for (double const T : {275.0, 310.0}) {
      for (double const alpha : {0.1, 0.5, 0.8}) {
        auto const p = rate.rate(T, alpha);
        double const h = 1e-4, e = 1e-6;
        double const dT = (rate.rate(T + h, alpha).value - rate.rate(T - h, alpha).value) / (2 * h);
        double const da = (rate.rate(T, alpha + e).value - rate.rate(T, alpha - e).value) / (2 * e);
        EXPECT_NEAR(p.dT, dT, 1e-6 * (std::abs(dT) + p.value / 300.0));
        EXPECT_NEAR(p.dalpha, da, 1e-6 * (std::abs(da) + p.value));
      }
    }
  }
}

TEST(RateLaw, NoReactionOutsideTheRangeOfCure) {
  for (auto const& rate : every_combination<double>()) {
    EXPECT_EQ(rate.rate(300.0, 1.0).value, 0.0);
    EXPECT_EQ(rate.rate(300.0, 1.0001).value, 0.0);
    EXPECT_TRUE(std::isfinite(rate.rate(300.0, -0.0001).value));
    EXPECT_GE(rate.rate(300.0, -0.0001).value, 0.0);
  }
}

/// Every law and diffusion control, first powers and equal energies, and a blend of them all.
std::vector<Reaction<double>> every_scheme_of_one_state() {
  auto const k = Arrhenius<double>::centred(2e-5, 5.6e4, 293.0);
  auto const k2 = Arrhenius<double>::centred(4e-3, 5.6e4, 293.0);
  auto const k3 = Arrhenius<double>::centred(4e-3, 5.2e4, 293.0);
  auto reactions = every_combination<double>();
  for (auto const& control :
       {reactions[0].diffusion, reactions[1].diffusion, reactions[2].diffusion}) {
    reactions.push_back({KamalSourour<double>{k, k2, 1.0, 1.7}, control});
    reactions.push_back({KamalSourour<double>{k, k3, 1.0, 1.7}, control});
    reactions.push_back({Autocatalytic<double>{k, 0.0, 1.7}, control});
  }
  std::vector<Reaction<double>> all(reactions.begin(), reactions.end());
  BlendedReaction<double> blend;
  for (auto const& r : reactions) {
    if (std::holds_alternative<TwoBranch<double>>(r.law)) continue;
    blend.parts.push_back({0.02 * static_cast<double>(blend.parts.size() + 1), r});
  }
  all.emplace_back(blend);
  return all;
}

TEST(CellRates, GiveWhatOneCellGivesWhateverTheInstructionsAndTheirNumber) {
  using numerics::Instructions;
  for (auto const instructions :
       {Instructions::baseline, Instructions::avx2, Instructions::avx512}) {
    if (!compiled_rates().supports(instructions)) continue;
    for (auto const& scheme : every_scheme_of_one_state()) {
      CellRates const many(scheme, instructions);
      for (std::size_t const n : {1U, 7U, 8U, 21U}) {
        std::vector<double> T, alpha;
        for (std::size_t i = 0; i < n; ++i) {
          T.push_back(275.0 + 2.5 * static_cast<double>(i));
          // From just below nothing to just above full cure; 0 itself is a point apart below.
          alpha.push_back(-0.001 + 1.003 / 20.0 * static_cast<double>(20 - i));
        }
        std::vector<double> value(n), alone(n), dT(n), dalpha(n);
        many.values(T, alpha, alone);
        many.with_derivatives(T, alpha, value, dT, dalpha);
        for (std::size_t i = 0; i < n; ++i) {
          auto const one =
              CureRate<double>(
                  std::visit([](auto const& r) { return CureRate<double>(r); }, scheme))
                  .at(T[i], &alpha[i]);
          EXPECT_EQ(alone[i], value[i]);
          EXPECT_NEAR(value[i], one.f[0], 1e-14 * std::abs(one.f[0])) << alpha[i];
          EXPECT_NEAR(dT[i], one.dT[0], 1e-13 * std::abs(one.dT[0]) + 1e-300);
          EXPECT_NEAR(dalpha[i], one.dx[0][0],
                      1e-12 * (std::abs(one.dx[0][0]) + std::abs(one.f[0])));
        }
      }
    }
  }
}

TEST(CellRates, AFirstPowerStartsWithItsFullSlope) {
  KamalSourour<double> const law{Arrhenius<double>::centred(2e-5, 5.6e4, 293.0),
                                 Arrhenius<double>::centred(4e-3, 5.6e4, 293.0), 1.0, 1.7};
  std::vector<double> const T{293.0}, alpha{0.0};
  std::vector<double> value(1), dT(1), dalpha(1);
  CellRates(SingleReaction<double>{law, ChemicalControl{}})
      .with_derivatives(T, alpha, value, dT, dalpha);
  EXPECT_NEAR(value[0], 2e-5, 1e-18);
  EXPECT_NEAR(dalpha[0], 4e-3 - 1.7 * 2e-5, 1e-16);
}

// Closed form of isothermal n-th order, by separation of variables:
// alpha = 1 - (1 + (n-1) k t)^(1/(1-n)), and 1 - exp(-k t) for n = 1.
TEST(Isothermal, NthOrderHasItsClosedForm) {
  for (double const n : {0.5, 1.0, 1.5, 2.0, 2.6}) {
    Resin<double> resin;
    resin.rate = CureRate<double>(NthOrder<double>{Arrhenius<double>::from_A(3e6, 6e4), n});
    double const T = 305.0;
    double const k = 3e6 * std::exp(-6e4 / (gas_constant * T));
    double const end = 0.9 / k;
    auto const path = cure_isothermal(resin, T, {0.0}, end);
    for (double const t : {0.3 * end, 0.77 * end, end}) {
      std::array<double, 1> alpha{};
      path.state_at(t, alpha);
      double const exact = n == 1.0 ? 1.0 - std::exp(-k * t)
                                    : 1.0 - std::pow(1.0 + (n - 1.0) * k * t, 1.0 / (1.0 - n));
      EXPECT_NEAR(alpha[0], exact, 1e-7) << "n = " << n << ", t = " << t;
    }
  }
}

// Autocatalysis with m = n = 1 is the logistic equation: alpha/(1-alpha) grows as exp(k t)
// (P.-F. Verhulst, 1838).
TEST(Isothermal, AutocatalyticWithUnitExponentsIsLogistic) {
  Resin<double> resin;
  resin.rate = CureRate<double>(
      Autocatalytic<double>{Arrhenius<double>::centred(1e-3, 5e4, 300.0), 1.0, 1.0});
  double const a0 = 0.01;
  auto const path = cure_isothermal(resin, 300.0, {a0}, 8000.0);
  for (double const t : {1000.0, 4000.0, 6543.0, 8000.0}) {
    std::array<double, 1> alpha{};
    path.state_at(t, alpha);
    double const odds = a0 / (1.0 - a0) * std::exp(1e-3 * t);
    EXPECT_NEAR(alpha[0], odds / (1.0 + odds), 1e-7);
  }
}

// n = 1 has partial fractions: (1 + c alpha)/(1 - alpha) = exp((1 + c) k t) from alpha = 0.
TEST(Isothermal, AutocatalysedFirstOrderHasItsClosedForm) {
  for (double const c : {0.0, 0.7, 12.0, 300.0}) {
    Resin<double> resin;
    double const k = 1e-4;
    resin.rate = CureRate<double>(
        AutocatalysedNthOrder<double>{Arrhenius<double>::centred(k, 5e4, 300.0), 1.0, c});
    double const end = 8.0 / ((1.0 + c) * k);
    auto const path = cure_isothermal(resin, 300.0, {0.0}, end);
    for (double const t : {0.1 * end, 0.4 * end, 0.77 * end, end}) {
      std::array<double, 1> alpha{};
      path.state_at(t, alpha);
      double const grown = std::exp((1.0 + c) * k * t);
      EXPECT_NEAR(alpha[0], (grown - 1.0) / (grown + c), 1e-7) << "c = " << c << ", t = " << t;
    }
  }
}

// With one activation energy and m = 1 Kamal and Sourour's law is this one with k2 = c k1.
TEST(RateLaw, AutocatalysedNthOrderIsKamalSourourOfOneEnergy) {
  auto const k = Arrhenius<double>::centred(2e-5, 5.6e4, 293.0);
  auto k2 = k;
  k2.k_ref = 150.0 * k.k_ref;
  AutocatalysedNthOrder<double> const law{k, 1.6, 150.0};
  KamalSourour<double> const both{k, k2, 1.0, 1.6};
  ChernPoehlein<double> const diffusion{30.0, -0.8, 0.0053};
  for (double const T : {275.0, 293.0, 330.0}) {
    for (double const alpha : {0.0, 0.01, 0.3, 0.8, 0.99}) {
      auto const limit = diffusion.at(T, alpha);
      auto const a = law.rate(T, alpha, limit);
      auto const b = both.rate_as<KamalSourour<double>::first_power>(T, alpha, limit);
      EXPECT_NEAR(a.value, b.value, 1e-14 * b.value);
      EXPECT_NEAR(a.dT, b.dT, 1e-12 * std::abs(b.dT));
      EXPECT_NEAR(a.dalpha, b.dalpha, 1e-12 * (std::abs(b.dalpha) + b.value));
    }
  }
}

/// Every law says of its constants what the rest of the library goes by.
TEST(Registry, EveryLawHasANameAndConstantsThatCanBeSearched) {
  std::vector<std::string> names;
  each_listed<RateLaw<double>>([&]<std::size_t i>() {
    using Law = Listed<i, RateLaw<double>>;
    names.emplace_back(Law::name);
    EXPECT_EQ((number_in<Law, RateLaw<double>>()), i);
    each_constant<Law>([&]<class Member>(LawConstant<Member> const& c) {
      SCOPED_TRACE(testing::Message() << Law::name << ": " << c.key);
      auto const& s = c.search;
      EXPECT_LT(s.low, s.high);
      EXPECT_GE(s.start_low, s.low);
      EXPECT_LE(s.start_low, s.start_high);
      EXPECT_LE(s.start_high, s.high);
      if constexpr (!is_rate_constant<Member>) {
        // What a fit finds may stand in a model file.
        EXPECT_TRUE(c.range.holds(s.low) && c.range.holds(s.high));
        EXPECT_FALSE(c.by_logarithm && !(s.low > 0.0));
      }
    });
  });
  std::sort(names.begin(), names.end());
  EXPECT_EQ(std::adjacent_find(names.begin(), names.end()), names.end());
  EXPECT_EQ((number_in<int, RateLaw<double>>()), std::variant_size_v<RateLaw<double>>);
}

// A.A. Johnston, PhD thesis, Univ. of British Columbia, 1997, eq. 6.13 and Table C.11 (constants as
// transcribed, primary table not seen). The diffusion-limited conversion alpha_c0 + alpha_cT T is
// exact arithmetic on them.
TEST(DiffusionControl, PublishedCriticalConversionsOfAnAerospaceEpoxy) {
  ChernPoehlein<double> const d{43.09, -1.6840, 5.475e-3};
  for (auto const& [celsius, critical] :
       {std::pair{110.0, 0.41375}, {140.0, 0.57800}, {160.0, 0.68750}, {180.0, 0.79700}}) {
    double const T = celsius + 273.15;
    // At alpha_c the factor is one half, by definition.
    EXPECT_NEAR(d.at(T, critical).factor.value, 0.5, 43.09 * 5e-5);
  }
}

TEST(DiffusionControl, AnUnstatedSlopeLeavesTheCriticalConversionTheSameAtAnyTemperature) {
  ChernPoehlein<double> const d{30.0, 0.8};
  for (double const T : {250.0, 300.0, 400.0}) EXPECT_EQ(d.at(T, 0.8).factor.value, 0.5);
}

TEST(DiffusionControl, ChernPoehleinStaysFiniteAtBothEnds) {
  ChernPoehlein<double> const d{1e4, 0.5, 0.0};
  EXPECT_EQ(d.at(300.0, 0.0).factor.value, 1.0);
  EXPECT_EQ(d.at(300.0, 1.0).factor.value, 0.0);
  EXPECT_EQ(d.at(300.0, 1.0).factor.dalpha, 0.0);
}

TEST(DiffusionControl, RabinowitchTakesTheSlowerProcess) {
  Rabinowitch<double> const d{1e-3, 40.2, 51.6, {240.0, 360.0, 0.4}};
  Partial<double> const k{1e-3, 0.0, 0.0};
  // Far above Tg chemistry decides; far below it, diffusion.
  EXPECT_NEAR(d.at(400.0, 0.1).apply(k).value, 1e-3, 1e-9);
  auto const cold = d.at(260.0, 0.95);
  EXPECT_NEAR(cold.apply(k).value, cold.k_d.value, 1e-3 * cold.k_d.value);
}

}  // namespace
}  // namespace cure::kinetics
