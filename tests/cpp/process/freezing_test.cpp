#include <gtest/gtest.h>

#include <cmath>
#include <memory>
#include <numbers>
#include <type_traits>
#include <vector>

#include "cure/process/section_wall.hpp"
#include "support.hpp"

namespace cure::process {
namespace {

heat::Freezing const ice{400.0, 273.15, 0.05, 4.3, 1060.0};

heat::Material wet_sand(heat::Freezing const& freezing) {
  heat::Material sand{"sand", 2.5, 2000.0, 1476.0};
  sand.freezing = freezing;
  return heat::with_freezing(sand);
}

/// Neumann's two-phase solution (H.S. Carslaw, J.C. Jaeger, "Conduction of Heat in Solids", 2nd
/// ed., 1959, sec. 11.2; from memory): ground at T_i, its surface from t = 0 at T_s below freezing.
struct Neumann {
  double T_s, T_i, T_f, k_s, k_l, a_s, a_l, heat, lambda = 0.0;

  Neumann(double surface, double initial)
      : T_s(surface),
        T_i(initial),
        T_f(273.15),
        k_s(4.3),
        k_l(2.5),
        a_s(4.3 / (2000.0 * 1060.0)),
        a_l(2.5 / (2000.0 * 1476.0)),
        heat(heat::heat_of_fusion * 400.0) {
    double low = 1e-6, high = 3.0;
    for (int i = 0; i < 200; ++i) {
      lambda = 0.5 * (low + high);
      (balance(lambda) > 0.0 ? low : high) = lambda;
    }
  }
  /// Heat conducted from the front less heat of fusion, over its speed.
  [[nodiscard]] double balance(double x) const {
    double const ratio = std::sqrt(a_s / a_l);
    double const out = k_s * (T_f - T_s) / std::sqrt(a_s) * std::exp(-x * x) / std::erf(x);
    double const in = k_l * (T_i - T_f) / std::sqrt(a_l) * std::exp(-x * x * ratio * ratio) /
                      std::erfc(x * ratio);
    return out - in - heat * x * std::sqrt(std::numbers::pi * a_s);
  }
  [[nodiscard]] double front(double t) const { return 2.0 * lambda * std::sqrt(a_s * t); }
  [[nodiscard]] double temperature(double x, double t) const {
    if (x < front(t)) {
      return T_s + (T_f - T_s) * std::erf(x / (2.0 * std::sqrt(a_s * t))) / std::erf(lambda);
    }
    return T_i - (T_i - T_f) * std::erfc(x / (2.0 * std::sqrt(a_l * t))) /
                     std::erfc(lambda * std::sqrt(a_s / a_l));
  }
};

Wall ground(double surface, std::size_t cells, heat::Freezing const& freezing = ice) {
  std::vector<heat::Layer> const layers{{"ground", 5.0, wet_sand(freezing), cells, 30.0, 0.0}};
  return test::inert_wall({heat::make_mesh(heat::Geometry::slab, 0.0, layers),
                           heat::FixedTemperature{surface}, heat::Insulated{}},
                          5e-3);
}

TEST(Freezing, FrontFollowsNeumannsSolution) {
  double const day = 86400.0;
  for (double const T_i : {273.2, 278.15, 288.15}) {
    Neumann const exact(263.15, T_i);
    auto wall = ground(263.15, 300);
    auto y0 = test::uniform_state(wall, T_i);
    wall.to_state(y0);
    for (double const days : {1.0, 5.0, 10.0}) {
      auto y = test::solve(wall, y0, days * day);
      EXPECT_LT(wall.energy_residual(y0, y), 1e-9);
      std::vector<double> f(y.size());
      wall.to_temperature(y, f);
      auto const& node = wall.conduction().mesh().node;
      std::size_t i = 0;
      double const middle = ice.start - 0.5 * ice.range;
      while (y[i + 1] < middle) ++i;
      double const s = (middle - y[i]) / (y[i + 1] - y[i]);
      double const front = node[i] + s * (node[i + 1] - node[i]);
      EXPECT_NEAR(front, exact.front(days * day), 0.02 * exact.front(days * day))
          << T_i << " K, " << days << " days";
      for (std::size_t c = 0; c < wall.cells(); c += 20) {
        EXPECT_NEAR(y[c], exact.temperature(node[c], days * day), 0.15);
      }
    }
  }
}

TEST(Freezing, ThawsAgainAlongTheSameHeat) {
  // Down below freezing and up again, insulated at the end: what went in came out.
  auto const cycle = numerics::Schedule({0.0, 86400.0, 5.0 * 86400.0, 6.0 * 86400.0},
                                        {278.15, 265.15, 265.15, 278.15});
  auto wall = test::inert_wall(test::one_layer(heat::Geometry::cylinder, 0.1, 0.4,
                                               wet_sand({400.0, 273.15, 0.5, 4.3, 1060.0}), 40,
                                               heat::FixedTemperature{cycle}, heat::Insulated{}),
                               5e-3);
  auto y0 = test::uniform_state(wall, 278.15);
  wall.to_state(y0);
  auto const cold = test::solve(wall, y0, 5.0 * 86400.0);
  auto const warm = test::solve(wall, y0, 200.0 * 86400.0);
  EXPECT_LT(cold[0], y0[0] - 30.0) << "it has frozen";
  EXPECT_LT(wall.energy_residual(y0, cold), 1e-9);
  EXPECT_NEAR(warm[0], y0[0], 0.05);
  EXPECT_NEAR(warm[39], y0[39], 0.05);
}

// In two dimensions, where all columns are alike; the ground freezes at one place after another.
TEST(Freezing, IsTheSameInTwoDimensions) {
  std::size_t const m = 4;
  heat::Material const clay{"clay", 1.2, 2240.0, 840.0};
  std::vector<heat::Layer> const layers{
      {"pipe", 0.02, clay, 6, 1.0, 0.0},
      {"ground", 0.5, wet_sand({400.0, 273.15, 0.5, 4.3, 1060.0}), 20, 15.0, 0.0}};
  heat::Boundary const bore = heat::Convection{20.0, 255.0};
  heat::Boundary const far = heat::FixedTemperature{275.0};
  auto one =
      test::inert_wall({heat::make_mesh(heat::Geometry::cylinder, 0.075, layers), bore, far}, 1e6);
  auto const edge = heat::equal_edges(0.0, 2.0 * std::numbers::pi, m);
  std::vector<heat::Column> const columns(m, {0.075, layers});
  SectionWall wall({heat::make_section_mesh(heat::Section::around, edge, columns),
                    std::vector<heat::Boundary>(m, bore), std::vector<heat::Boundary>(m, far)},
                   {}, "none", 0.0, {1e6, 1e6});
  auto x = test::uniform_state(one, 275.0);
  one.to_state(x);
  auto const x0 = x;
  std::vector<double> y(wall.size(), 0.0);
  std::fill(y.begin(), y.begin() + static_cast<std::ptrdiff_t>(wall.cells()), 275.0);
  wall.to_state(y);
  auto const y0 = y;
  // Equal steps: a step control would feel round-off where cells enter their range.
  auto const run = [](auto& any, std::vector<double> state) {
    numerics::DenseStepper<std::decay_t<decltype(any)>> stepper(numerics::ros34pw2,
                                                                {.max_step = 20.0});
    stepper.initialize(state, 0.0, 20.0);
    while (stepper.current_time() < 172800.0) stepper.do_step(any, 172800.0);
    return stepper.current_state();
  };
  y = run(wall, y0);
  x = run(one, x0);
  for (std::size_t c = 0; c < wall.cells(); ++c) EXPECT_NEAR(y[c], x[c / m], 1e-10 * 300.0);
  EXPECT_LT(wall.energy_residual(y0, y), 1e-9);
  EXPECT_LT(x[6], x0[6] - 30.0) << "nothing has frozen";
}

/// A material that varies smoothly enough for the methods to show their order.
Wall varying_pipe(std::size_t n, Tolerance tolerance, bool conducts = true) {
  heat::Material plastic{"plastic", 0.5, 980.0, 1800.0};
  plastic.varying = std::make_shared<heat::VaryingProperties const>(
      heat::Curve({250.0, 400.0}, {0.8, 1.7}),
      conducts ? heat::Curve({250.0, 400.0}, {1.2, 0.7}) : heat::Curve(1.0), 283.15);
  heat::Material const soil{"soil", 1.8, 1800.0, 1200.0};
  std::vector<heat::Layer> const layers{{"pipe", 0.02, plastic, n, 1.0, 0.002},
                                        {"ground", 0.2, soil, 2 * n, 20.0, 0.0}};
  return {{heat::make_mesh(heat::Geometry::cylinder, 0.05, layers),
           heat::Convection{numerics::Schedule({0.0, 7200.0}, {30.0, 50.0}),
                            numerics::Schedule({0.0, 7200.0}, {300.0, 350.0})},
           heat::FixedTemperature{281.0}},
          {},
          2,
          0.0,
          tolerance};
}

TEST(VaryingWall, StageSolveInvertsTheJacobianOfItsOwnSlopes) {
  auto wall = varying_pipe(6, {1e-6, 1e-6}, false);
  auto const n = wall.size();
  auto y = test::uniform_state(wall, 295.0);
  for (std::size_t i = 0; i < wall.cells(); ++i) y[i] += 9.0 * std::sin(static_cast<double>(i));
  double const t = 1000.0, d = 0.05;
  std::vector<double> f(n), up(n), down(n), x(n), rhs(n);
  wall.linearise(t, y, f);
  ASSERT_TRUE(wall.factorise(d));
  for (std::size_t i = 0; i < n; ++i) x[i] = std::cos(1.7 * static_cast<double>(i));
  for (std::size_t i = 0; i < n; ++i) rhs[i] = d * x[i];
  for (std::size_t c = 0; c < n; ++c) {
    auto moved = y;
    moved[c] += 1e-3;
    wall.evaluate(t, moved, up);
    moved[c] -= 2e-3;
    wall.evaluate(t, moved, down);
    for (std::size_t i = 0; i < n; ++i) rhs[i] -= (up[i] - down[i]) / 2e-3 * x[c];
  }
  wall.solve(rhs);
  for (std::size_t i = 0; i < n; ++i) EXPECT_NEAR(rhs[i], x[i], 1e-5) << "component " << i;
}

/// Observed order of the temperatures in the step, from 1800 s to 3600 s; energy must close too.
/// @param make gives the wall, with no error control
template <class Make>
double order_in_time(Make const& make, std::vector<double> const& start) {
  auto const at = [&](int n) {
    Wall wall = make();
    double const step = 1800.0 / n;
    numerics::DenseStepper<Wall> stepper(numerics::ros34pw2, {.max_step = step});
    stepper.initialize(start, 1800.0, step);
    while (stepper.current_time() < 3600.0) stepper.do_step(wall, 3600.0);
    EXPECT_LT(wall.energy_residual(start, stepper.current_state()), 1e-9);
    return stepper.current_state();
  };
  auto const a = at(400), b = at(800), c = at(1600);
  double ab = 0.0, bc = 0.0;
  for (std::size_t i = 0; i < make().cells(); ++i) {
    ab = std::max(ab, std::abs(a[i] - b[i]));
    bc = std::max(bc, std::abs(b[i] - c[i]));
  }
  return std::log2(ab / bc);
}

TEST(Convergence, ThirdOrderInTimeWithPropertiesOverTemperature) {
  auto tight = varying_pipe(8, {1e-7, 1e-7});
  auto start = test::uniform_state(tight, 285.0);
  tight.to_state(start);
  start = test::solve(tight, start, 1800.0);
  EXPECT_GT(order_in_time([] { return varying_pipe(8, {1e6, 1e6}); }, start), 2.9);
}

TEST(Convergence, SecondOrderInSpaceWithPropertiesOverTemperature) {
  auto const heat_in = [](std::size_t n) {
    auto wall = varying_pipe(n, {1e-6, 1e-6});
    auto y = test::uniform_state(wall, 285.0);
    wall.to_state(y);
    return test::solve(wall, y, 7200.0)[wall.cells()];
  };
  double const a = heat_in(12), b = heat_in(24), c = heat_in(48);
  EXPECT_GT(std::log2(std::abs((a - b) / (b - c))), 1.9);
}

/// A bare laminate in wind and sun that radiates: every new surface law at once.
Wall in_wind(std::size_t n, Tolerance tolerance) {
  heat::Material const rubber{"rubber", 0.13, 910.0, 1100.0}, wet{"wet", 0.3, 1500.0, 1200.0};
  std::vector<heat::Layer> const layers{{"bladder", 0.004, rubber, n, 1.0, 0.0},
                                        {"liner", 0.004, wet, n, 1.0, 0.0}};
  auto const ramp = [](double from, double to) {
    return numerics::Schedule({0.0, 7200.0}, {from, to});
  };
  heat::Convection outside{0.0, ramp(285.0, 295.0), ramp(100.0, 500.0), 0.9, ramp(270.0, 280.0)};
  outside.film.emplace();
  outside.film->diameter = 0.1;
  outside.film->wind = ramp(2.0, 5.0);
  heat::Convection inside{0.0, ramp(330.0, 340.0)};
  inside.film.emplace();
  inside.film->law = heat::AirFilm::Law::closed_air;
  inside.film->diameter = 0.084;
  inside.film->pressure = 2e5;
  return test::inert_wall(
      {heat::make_mesh(heat::Geometry::cylinder, 0.042, layers), inside, outside},
      tolerance.temperature);
}

TEST(Convergence, ThirdOrderInTimeWithCorrelationsAndRadiation) {
  auto tight = in_wind(8, {1e-8, 1e-8});
  auto const start = test::solve(tight, test::uniform_state(tight, 300.0), 1800.0);
  EXPECT_GT(order_in_time([] { return in_wind(8, {1e6, 1e6}); }, start), 2.9);
}

TEST(Convergence, SecondOrderInSpaceWithCorrelationsAndRadiation) {
  auto const heat_in = [](std::size_t n) {
    auto wall = in_wind(n, {1e-7, 1e-7});
    return test::solve(wall, test::uniform_state(wall, 300.0), 3600.0)[wall.cells()];
  };
  double const a = heat_in(6), b = heat_in(12), c = heat_in(24);
  EXPECT_GT(std::log2(std::abs((a - b) / (b - c))), 1.9);
}

}  // namespace
}  // namespace cure::process
