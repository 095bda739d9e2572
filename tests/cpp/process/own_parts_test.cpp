/// Laws, surfaces and layers of a user's own against those of the library.

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "cure/heat/conduction.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/model_files.hpp"
#include "cure/kinetics/batch.hpp"
#include "cure/kinetics/rate_scale.hpp"
#include "cure/process/predict.hpp"
#include "cure/process/solve_wall.hpp"
#include "cure/process/wall.hpp"
#include "support.hpp"

namespace cure::process {
namespace {

using kinetics::own_rate, kinetics::tabulated_rate;

constexpr double A = 2e5, E = 55e3, order = 1.3;

/// Any number type: k (1-alpha)^n, continued by 0.
auto const formula = [](auto const& T, auto const& alpha) {
  using S = std::remove_cvref_t<decltype(alpha)>;
  if (!(alpha < S(1.0))) return S(0.0);
  return S(A) * exp(S(-E / gas_constant) / T) * pow(S(1.0) - alpha, S(order));
};

kinetics::NthOrder<double> listed() { return {kinetics::Arrhenius<double>::from_A(A, E), order}; }

TEST(OwnRate, IsTheListedLawOfTheSameFormula) {
  kinetics::CureRate<double> const own = own_rate(formula), known = listed();
  for (double const T : {275.0, 320.0, 400.0}) {
    for (double const alpha : {0.0, 0.3, 0.99}) {
      auto const a = own.at(T, &alpha), b = known.at(T, &alpha);
      EXPECT_NEAR(a.f[0], b.f[0], 1e-12 * b.f[0]);
      EXPECT_NEAR(a.dT[0], b.dT[0], 1e-11 * std::abs(b.dT[0]));
      EXPECT_NEAR(a.dx[0][0], b.dx[0][0], 1e-11 * std::abs(b.dx[0][0]));
    }
  }
}

TEST(Faster, MultipliesTheRateOfAnyScheme) {
  auto const twice = [](kinetics::CureRate<double> const& rate, std::vector<double> const& x) {
    std::vector<double> slow(x.size()), fast(x.size());
    rate.slopes(310.0, x.data(), slow.data());
    kinetics::faster(rate, 2.0).slopes(310.0, x.data(), fast.data());
    for (std::size_t i = 0; i < x.size(); ++i) {
      EXPECT_NEAR(fast[i], 2.0 * slow[i], 1e-12 * std::abs(slow[i])) << i;
    }
    EXPECT_GT(slow[0], 0.0);
  };
  twice(own_rate(formula), {0.3});
  twice(listed(), {0.3});
  std::filesystem::path const models = LIBCURE_SOURCE_DIR "/models";
  for (auto const& file : std::filesystem::directory_iterator(models / "resins")) {
    if (file.path().extension() != ".json") continue;
    auto const rate = io::load_resin(file.path(), {{models}}).rate;
    twice(rate, rate.initial(0.3));
  }
}

TEST(OwnRate, RunsAWholeJob) {
  std::filesystem::path const models = LIBCURE_SOURCE_DIR "/models";
  auto c = io::load_case(models / "cases/cold_ground_winter.json", {{models}});
  // Of a vitrifying resin whatever law: the times are those of the registry's law of that formula.
  c.resin.rate = listed();
  auto const known = predict(c).verdict;
  c.resin.rate = own_rate(formula);
  auto const own = predict(c).verdict;
  ASSERT_TRUE(known.gel_time_last && own.gel_time_last);
  EXPECT_NEAR(*own.gel_time_last, *known.gel_time_last, 1e-6 * *known.gel_time_last);
  EXPECT_NEAR(own.peak.temperature, known.peak.temperature, 1e-4);
}

TEST(TabulatedRate, IsExactAtItsPointsAndArrheniusBetweenTemperatures) {
  std::vector<double> const T{270.0, 300.0, 340.0}, alpha{0.0, 0.2, 0.5, 0.8, 1.0};
  std::vector<double> rate;
  for (double const t : T) {
    for (double const a : alpha) rate.push_back(formula(t, a));
  }
  kinetics::CureRate<double> const table = tabulated_rate(T, alpha, rate);
  for (double const t : {270.0, 283.0, 300.0, 331.0, 340.0}) {
    for (double const a : {0.0, 0.2, 0.5, 0.8}) {
      EXPECT_NEAR(table.at(t, &a).f[0], formula(t, a), 1e-12 * formula(t, a));
    }
  }
  for (double const t : {275.0, 333.0}) {
    double const a = 0.37, e = 1e-4;
    double const up = a + e, down = a - e;
    auto const s = table.at(t, &a);
    EXPECT_NEAR(s.dT[0], (table.at(t + e, &a).f[0] - table.at(t - e, &a).f[0]) / (2.0 * e),
                1e-6 * s.dT[0]);
    EXPECT_NEAR(s.dx[0][0], (table.at(t, &up).f[0] - table.at(t, &down).f[0]) / (2.0 * e),
                1e-6 * std::abs(s.dx[0][0]));
  }
  double const a = 0.5;
  EXPECT_THROW((void)table.at(269.0, &a), InputError);
  EXPECT_THROW((void)tabulated_rate({270.0, 300.0}, {0.0, 1.0}, {1.0, 0.0, 1.0, 1e-9}), InputError);
  EXPECT_THROW((void)tabulated_rate({300.0, 270.0}, {0.0, 1.0}, {1.0, 0.0, 1.0, 0.0}), InputError);
}

/// Five layers, none of which a case knows, around the curing one.
Wall sandwich(heat::Boundary inner) {
  heat::Material const foam{"foam", 0.04, 60, 1400}, skin{"skin", 15.0, 7800, 480},
      laminate{"laminate", 0.3, 1500.0, 1200.0};
  std::vector<heat::Layer> const layers{{"heater", 0.001, skin, 4, 1.0, 0.0},
                                        {"felt", 0.003, foam, 6, 1.0, 0.0},
                                        {"part", 0.006, laminate, 16, 1.0, 0.002},
                                        {"tool", 0.004, skin, 6, 1.0, 0.0},
                                        {"back", 0.02, foam, 10, 1.0, 0.0}};
  return {heat::Conduction(heat::make_mesh(heat::Geometry::slab, 0.0, layers), std::move(inner),
                           heat::Convection{6.0, 293.0}),
          own_rate(formula), 2, 0.5 * 1150.0 * 350e3, Tolerance{1e-4, 1e-7}};
}

std::vector<double> last_state(Wall wall) {
  auto const out = solve_wall(wall, test::uniform_state(wall, 293.0, 0.0), 5400.0);
  EXPECT_LT(std::abs(out.energy_residual), 1e-9);
  auto const state = out.path.state(out.path.times().size() - 1);
  return {state.begin(), state.end()};
}

TEST(OwnSurface, IsTheListedOneOfTheSameFormulaOnLayersOfOnesOwn) {
  heat::Convection radiating{9.0, numerics::Schedule({0.0, 5400.0}, {300.0, 340.0})};
  radiating.emissivity = 0.9;
  radiating.surroundings = 310.0;
  auto const own = heat::own_surface([](auto const& t, auto const& T_s) {
    using S = std::remove_cvref_t<decltype(T_s)>;
    S const T_m = S(300.0) + S(40.0 / 5400.0) * t, T4 = T_s * T_s * T_s * T_s;
    return S(9.0) * (T_m - T_s) + S(0.9 * stefan_boltzmann) * (S(std::pow(310.0, 4)) - T4);
  });
  auto const a = last_state(sandwich(radiating)), b = last_state(sandwich(own));
  ASSERT_EQ(a.size(), b.size());
  for (std::size_t i = 0; i + 2 < a.size(); ++i)
    EXPECT_NEAR(a[i], b[i], 1e-4 * std::abs(a[i]) + 1e-9);
  EXPECT_GT(a.front(), 300.0);
}

TEST(OwnSurface, ThatNoTemperatureBalancesIsSaid) {
  // Q grows with the surface faster than half a cell can carry off, and without end.
  heat::OwnSurface const runaway{[](double, double T_s) {
    return heat::SurfaceHeat{1e6 + T_s * T_s, 2.0 * T_s, 0.0};
  }};
  EXPECT_THROW((void)heat::surface_load(runaway, 0.0, 1.0, 1.0, 300.0), SolverError);
}

}  // namespace
}  // namespace cure::process
