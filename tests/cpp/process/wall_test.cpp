#include "cure/process/wall.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "cure/kinetics/batch.hpp"
#include "cure/process/solve_wall.hpp"
#include "support.hpp"

namespace cure::process {
namespace {

heat::Material const laminate{"laminate", 0.3, 1500.0, 1200.0};
double const source = 0.75 * 1150.0 * 400e3;

kinetics::CureRate<double> reactive() {
  using A = kinetics::Arrhenius<double>;
  return {kinetics::KamalSourour<double>{A::from_A(2.5e5, 58e3), A::from_A(2e6, 56e3), 0.8, 1.6},
          kinetics::ChernPoehlein<double>{30.0, -0.8, 0.0057}};
}

Wall layered_around(heat::Boundary inner, Tolerance tolerance, std::size_t n) {
  heat::Material const rubber{"rubber", 0.13, 910, 1100}, soil{"soil", 1.8, 1800, 1200};
  std::vector<heat::Layer> const layers{{"bladder", 0.004, rubber, n / 2, 1.0, 0.0},
                                        {"liner", 0.004, laminate, n, 1.0, 0.001},
                                        {"ground", 0.2, soil, 2 * n, 20.0, 0.0}};
  heat::Conduction conduction(heat::make_mesh(heat::Geometry::cylinder, 0.042, layers),
                              std::move(inner), heat::FixedTemperature{281.0});
  return {std::move(conduction), reactive(), 1, source, tolerance};
}

Wall layered(Tolerance tolerance, std::size_t n = 12, double fill = 300.0) {
  return layered_around(
      heat::Convection{numerics::Schedule({0.0, 7200.0}, {8.0, 14.0}),
                       numerics::Schedule({0.0, 3600.0, 7200.0}, {fill, fill + 20.0, fill})},
      tolerance, n);
}

/// Nothing changes from outside.
Wall left_alone(Tolerance tolerance, std::size_t n) {
  return layered_around(heat::Convection{8.0, 310.0}, tolerance, n);
}

// The stage solve is checked against the Jacobian from central differences, built densely here.
TEST(Wall, StageSolveInvertsTheJacobianOfItsOwnSlopes) {
  auto wall = layered({1e-6, 1e-6}, 4);
  auto const n = wall.size();
  auto y = test::uniform_state(wall, 300.0, 0.3);
  for (std::size_t i = 0; i < wall.cells(); ++i) y[i] += 3.0 * std::sin(static_cast<double>(i));
  double const t = 1000.0, d = 0.05;
  std::vector<double> f(n), up(n), down(n);
  wall.linearise(t, y, f);
  ASSERT_TRUE(wall.factorise(d));
  std::vector<double> x(n);
  for (std::size_t i = 0; i < n; ++i) x[i] = std::cos(1.7 * static_cast<double>(i));
  // rhs = (d - J) x, then solve must give x back.
  std::vector<double> rhs(n);
  for (std::size_t i = 0; i < n; ++i) rhs[i] = d * x[i];
  for (std::size_t k = 0; k < n; ++k) {
    double const e = k < wall.cells() ? 1e-3 : 1e-6;
    auto moved = y;
    moved[k] += e;
    wall.evaluate(t, moved, up);
    moved[k] -= 2.0 * e;
    wall.evaluate(t, moved, down);
    for (std::size_t i = 0; i < n; ++i) rhs[i] -= (up[i] - down[i]) / (2.0 * e) * x[k];
  }
  wall.solve(rhs);
  for (std::size_t i = 0; i < n; ++i) EXPECT_NEAR(rhs[i], x[i], 1e-5) << "component " << i;
}

TEST(Wall, TimeDerivativeAgreesWithDifferences) {
  auto wall = layered({1e-6, 1e-6}, 4);
  auto const y = test::uniform_state(wall, 300.0, 0.3);
  std::vector<double> f(wall.size()), up(wall.size()), down(wall.size()), ft(wall.size());
  wall.linearise(1000.0, y, f);
  ASSERT_TRUE(wall.time_derivative(ft));
  wall.evaluate(1001.0, y, up);
  wall.evaluate(999.0, y, down);
  for (std::size_t i = 0; i < wall.size(); ++i) {
    EXPECT_NEAR(ft[i], 0.5 * (up[i] - down[i]), 1e-6 * (1e-3 + std::abs(ft[i])));
  }
}

// Insulated all round, a laminate heats by H/c_p of the laminate, whatever its mesh.
TEST(Wall, InsulatedLaminateRisesByItsHeatOverItsHeatCapacity) {
  auto wall = Wall(test::one_layer(heat::Geometry::cylinder, 0.04, 0.01, laminate, 20,
                                   heat::Insulated{}, heat::Insulated{}),
                   {kinetics::NthOrder<double>{kinetics::Arrhenius<double>::from_A(3e6, 6e4), 1.0},
                    kinetics::ChemicalControl{}},
                   0, source, {1e-4, 1e-7});
  auto const y = test::solve(wall, test::uniform_state(wall, 293.0), 1e6);
  EXPECT_NEAR(y[wall.cells()], 1.0, 1e-6);
  EXPECT_NEAR(y[10] - 293.0, source / laminate.heat_capacity(), 1e-3);
}

TEST(Wall, EnergyClosesAtEveryTolerance) {
  for (double const scale : {100.0, 1.0, 0.01}) {
    auto wall = layered({5e-3 * scale, 2e-5 * scale});
    auto y0 = test::uniform_state(wall, 288.0, 0.01);
    for (std::size_t i = 0; i < 6; ++i) y0[i] = 318.0;
    auto const y = test::solve(wall, y0, 36000.0);
    EXPECT_LT(wall.energy_residual(y0, y), 1e-11);
    EXPECT_GT(y[wall.cells()], 0.3) << "nothing happened that could have failed to close";
  }
}

/// State at the end of an hour made in equal steps. It starts from a state half an hour old: right
/// after unlike layers meet no method has its order.
template <class Make>
std::vector<double> with_steps(int n, numerics::Tableau const& tableau, Make const& make) {
  Wall tight = make(Tolerance{1e-7, 1e-9});
  auto y = test::solve(tight, test::uniform_state(tight, 300.0, 0.05), 1800.0);
  Wall wall = make(Tolerance{1e6, 1e6});
  double const step = 1800.0 / n;
  numerics::DenseStepper<Wall> stepper(tableau, {.max_step = step});
  stepper.initialize(y, 1800.0, step);
  while (stepper.current_time() < 3600.0) stepper.do_step(wall, 3600.0);
  return stepper.current_state();
}

template <class Make>
double order_in_time(numerics::Tableau const& tableau, Make const& make) {
  auto const a = with_steps(100, tableau, make), b = with_steps(200, tableau, make),
             c = with_steps(400, tableau, make);
  double ab = 0.0, bc = 0.0;
  for (std::size_t i = 0; i < 28; ++i) {
    ab = std::max(ab, std::abs(a[i] - b[i]));
    bc = std::max(bc, std::abs(b[i] - c[i]));
  }
  return std::log2(ab / bc);
}

TEST(Convergence, ThirdOrderInTimeForTheCoupledWall) {
  auto const moving = [](Tolerance t) { return layered(t, 8, 310.0); };
  auto const still = [](Tolerance t) { return left_alone(t, 8); };
  EXPECT_GT(order_in_time(numerics::ros34pw2, moving), 2.9);
  EXPECT_GT(order_in_time(numerics::ros34pw2, still), 2.9);
  // Stiff diffusion takes some of its order at practical steps.
  EXPECT_GT(order_in_time(numerics::ros3, still), 2.6);
}

TEST(Wall, KnowsWhenNothingChangesFromOutside) {
  Tolerance const tolerance{};
  EXPECT_TRUE(left_alone(tolerance, 8).steady());
  EXPECT_FALSE(layered(tolerance).steady());
  heat::Convection sunlit{8.0, 300.0};
  sunlit.emissivity = 0.9;
  sunlit.surroundings = 290.0;
  EXPECT_FALSE(layered_around(sunlit, tolerance, 8).steady()) << "radiation is curved";
  Wall const varying(test::one_layer(heat::Geometry::slab, 0.0, 0.02, laminate, 4,
                                     heat::Insulated{}, heat::Insulated{}),
                     reactive(), 0, source, tolerance, {295.0, 1.5e-3, -0.1, 1e-3, 0.2});
  EXPECT_FALSE(varying.steady()) << "its Jacobian is not whole";
}

// The method for walls left alone is held to what the tolerance promises, dense output included.
TEST(Wall, StaysWithinItsToleranceWhenNothingChangesFromOutside) {
  auto exact_wall = left_alone({1e-7, 1e-10}, 12), wall = left_alone({5e-3, 5e-6}, 12);
  auto y = test::uniform_state(wall, 290.0, 0.02);
  for (std::size_t i = 0; i < 6; ++i) y[i] = 300.0;
  auto const exact = solve_wall(exact_wall, y, 36000.0), found = solve_wall(wall, y, 36000.0);
  EXPECT_LT(found.energy_residual, 1e-11);
  std::vector<double> a(wall.size()), b(wall.size());
  for (double t = 5.0; t < 36000.0; t *= 1.1) {
    exact.path.state_at(t, a);
    found.path.state_at(t, b);
    for (std::size_t i = 0; i < wall.cells(); ++i) ASSERT_NEAR(a[i], b[i], 0.02) << t;
    for (std::size_t j = 0; j < 12; ++j) {
      ASSERT_NEAR(a[wall.cells() + j], b[wall.cells() + j], 5e-5) << t;
    }
  }
}

TEST(Convergence, SecondOrderInSpaceForTheCoupledWall) {
  auto const alpha_mean = [](std::size_t n) {
    auto wall = layered({1e-5, 1e-8}, n);
    auto const y = test::solve(wall, test::uniform_state(wall, 290.0, 0.01), 14400.0);
    double sum = 0.0, volume = 0.0;
    auto const& mesh = wall.conduction().mesh();
    for (std::size_t j = 0; j < wall.reacting_cells(); ++j) {
      double const v = mesh.volume[wall.reacting()[j]];
      sum += v * y[wall.cells() + j];
      volume += v;
    }
    return sum / volume;
  };
  double const a = alpha_mean(8), b = alpha_mean(16), c = alpha_mean(32);
  EXPECT_GT(std::log2(std::abs((a - b) / (b - c))), 1.9);
}

kinetics::EpoxyAmine<double> mechanism() {
  using A = kinetics::Arrhenius<double>;
  kinetics::EpoxyAmine<double> r;
  r.k_0 = A::centred(4e-5, 7e4, 300.0);
  r.k_h = A::centred(9e-4, 5.6e4, 300.0);
  r.reactivity = 0.6;
  r.hydroxyl = 0.05;
  r.diffusion = kinetics::ChernPoehlein<double>{30.0, -0.8, 0.0057};
  return r;
}

/// An insulated or convecting laminate of any scheme and properties.
Wall laminate_only(kinetics::CureRate<double> rate, heat::Boundary outer,
                   LaminateProperties properties, Tolerance tolerance) {
  return {test::one_layer(heat::Geometry::cylinder, 0.04, 0.01, laminate, 10, heat::Insulated{},
                          std::move(outer)),
          std::move(rate),
          0,
          source,
          tolerance,
          properties};
}

// A uniform insulated laminate of several cure states must follow the lumped solve by another
// integrator (Dormand-Prince) on the same scheme.
TEST(Wall, SchemesOfSeveralStatesFollowTheLumpedSolve) {
  auto const scheme = mechanism();
  LaminateProperties const varying{295.0, 1.5e-3, -0.1, 1e-3, 0.2};
  for (auto const& properties : {LaminateProperties{}, varying}) {
    auto wall = laminate_only(scheme, heat::Insulated{}, properties, {1e-4, 1e-7});
    ASSERT_EQ(wall.states(), 3u);
    auto y = test::uniform_state(wall, 295.0);
    for (std::size_t j = 0; j < 10; ++j) y[wall.cells() + 10 + j] = 1.0;
    wall.to_state(y);
    auto const y0 = y;
    y = test::solve(wall, y0, 3000.0);
    EXPECT_LT(wall.energy_residual(y0, y), 1e-11);
    std::vector<double> f(y.size());
    wall.to_temperature(y, f);

    kinetics::Resin<double> same;
    same.rate = scheme;
    same.heat_of_reaction = source / laminate.density;
    same.specific_heat = {laminate.specific_heat, properties.capacity_T, properties.capacity_alpha,
                          properties.T_ref};
    auto const path = kinetics::cure_lumped(same, {1.0, 0.0, 0.0, 295.0}, 295.0,
                                            scheme.initial(0.0), 3000.0, 1e-10);
    auto const last = path.state(path.times().size() - 1);
    EXPECT_NEAR(y[4], last[0], 5e-3);
    for (std::size_t k = 0; k < 3; ++k)
      EXPECT_NEAR(y[wall.cells() + 10 * k + 4], last[1 + k], 5e-6);
    EXPECT_GT(last[1], 0.5);
  }
}

TEST(Wall, EnergyClosesAndOrderHoldsWithVaryingProperties) {
  LaminateProperties const varying{295.0, 1.5e-3, -0.1, 1e-3, 0.2};
  auto const make = [&](Tolerance tolerance) {
    return laminate_only(reactive(), heat::Convection{20.0, 285.0}, varying, tolerance);
  };
  // From a state ten minutes old, as above.
  auto tight = make({1e-7, 1e-9});
  auto start = test::uniform_state(tight, 305.0, 0.05);
  tight.to_state(start);
  start = test::solve(tight, start, 600.0);
  auto const at = [&](int n) {
    auto wall = make({1e6, 1e6});
    double const step = 1800.0 / n;
    numerics::DenseStepper<Wall> stepper(numerics::ros34pw2, {.max_step = step});
    stepper.initialize(start, 600.0, step);
    while (stepper.current_time() < 2400.0) stepper.do_step(wall, 2400.0);
    EXPECT_LT(wall.energy_residual(start, stepper.current_state()), 1e-11);
    return stepper.current_state()[5];
  };
  // The conductivity's own slope is left out of the Jacobian, which a W-method forgives.
  double const a = at(200), b = at(400), c = at(800);

  EXPECT_GT(std::log2(std::abs((a - b) / (b - c))), 2.9);
}

// u is the heat held over the reference capacity: its slope is the capacity, and it gives the
// temperature back.
TEST(LaminateProperties, TheirHeatIsTheIntegralOfTheirCapacity) {
  LaminateProperties const p{295.0, 1.5e-3, -0.1, 1e-3, 0.2};
  double const e = 1e-3;
  for (double const T : {260.0, 295.0, 400.0}) {
    for (double const alpha : {0.0, 0.5, 1.0}) {
      double const slope = (p.u_of(T + e, alpha) - p.u_of(T - e, alpha)) / (2.0 * e);
      EXPECT_NEAR(slope, p.capacity_factor(T, alpha), 1e-8);
      double const u = p.u_of(T, alpha);
      EXPECT_NEAR(p.temperature(u, alpha), T, 1e-10);
      double const along = (p.temperature(u, alpha + e) - p.temperature(u, alpha - e)) / (2.0 * e);
      EXPECT_NEAR(p.temperature_dalpha(T, alpha), along, 1e-4);
    }
  }
}

TEST(Wall, ConductivityThatGrowsWithTemperatureCarriesMoreHeat) {
  auto const steady = [&](double k_T) {
    auto wall = Wall(test::one_layer(heat::Geometry::slab, 0.0, 0.02, laminate, 40,
                                     heat::FixedTemperature{355.0}, heat::FixedTemperature{295.0}),
                     {kinetics::NthOrder<double>{{}, 1.0}, kinetics::ChemicalControl{}}, 0, 0.0,
                     {1e-5, 1e-7}, {295.0, 0.0, 0.0, k_T, 0.0});
    return test::solve(wall, test::uniform_state(wall, 300.0), 1e5);
  };
  // Kirchhoff's transform (Carslaw & Jaeger 1959, sec. 1.6): with k = k0 (1 + b x), x = T - T_ref,
  // x + b x^2/2 is linear across the slab.
  double const b = 0.01;
  auto const y = steady(b);
  for (std::size_t i = 0; i < 40; ++i) {
    double const s = (static_cast<double>(i) + 0.5) / 40.0;
    double const w = (1.0 - s) * (60.0 + 0.5 * b * 3600.0);
    EXPECT_NEAR(y[i] - 295.0, (std::sqrt(1.0 + 2.0 * b * w) - 1.0) / b, 0.35);
  }
}

TEST(Wall, NamesTheHottestCellWhenARunStops) {
  auto wall = layered({1e-3, 1e-5}, 8);
  auto y = test::uniform_state(wall, 300.0, 0.1);
  y[5] = 411.0;
  auto const text = wall.worst(y);
  EXPECT_NE(text.find("liner cell 2 of 8"), std::string::npos) << text;
  EXPECT_NE(text.find("411"), std::string::npos) << text;
}

}  // namespace
}  // namespace cure::process
