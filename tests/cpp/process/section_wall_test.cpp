#include "cure/process/section_wall.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "cure/numerics/rosenbrock.hpp"
#include "support.hpp"

namespace cure::process {
namespace {

using heat::Section;
constexpr double pi = std::numbers::pi;
heat::Material const laminate{"laminate", 0.3, 1500.0, 1200.0};
heat::Material const rubber{"rubber", 0.13, 910.0, 1100.0}, soil{"soil", 1.8, 1800.0, 1200.0},
    steel{"steel", 50.0, 7850.0, 470.0};
double const source = 0.75 * 1150.0 * 400e3;
using A = kinetics::Arrhenius<double>;

kinetics::CureRate<double> reactive() {
  return {kinetics::KamalSourour<double>{A::from_A(2.5e5, 58e3), A::from_A(2e6, 56e3), 0.8, 1.6},
          kinetics::ChernPoehlein<double>{30.0, -0.8, 0.0057}};
}
kinetics::CureRate<double> inhibited() {
  kinetics::InhibitedReaction<double> r;
  r.reaction = {kinetics::NthOrder<double>{A::from_A(3e6, 60e3), 1.0}, kinetics::ChemicalControl{}};
  r.k_z = A::from_A(2e7, 60e3);
  return kinetics::Reaction<double>(r);
}

std::vector<heat::Layer> layers(std::size_t n) {
  return {{"bladder", 0.004, rubber, n / 2, 1.0, 0.0},
          {"liner", 0.006, laminate, n, 1.0, 0.001},
          {"pipe", 0.004, steel, n / 2, 1.0, 0.0},
          {"ground", 0.2, soil, 2 * n, 20.0, 0.0}};
}
heat::Boundary fill(double h = 8.0, double T = 305.0) {
  return heat::Convection{numerics::Schedule({0.0, 7200.0}, {h, 1.5 * h}),
                          numerics::Schedule({0.0, 3600.0, 7200.0}, {T, T + 20.0, T})};
}

/// An egg-shaped liner, water standing at the invert, a full circle.
SectionWall eggshaped(Tolerance tolerance, std::size_t n, std::size_t m,
                      kinetics::CureRate<double> rate = reactive(),
                      LaminateProperties properties = {}) {
  auto const edge = heat::equal_edges(0.0, 2.0 * pi, m);
  auto const columns = heat::fitted_columns(edge, 0.05, layers(n), "liner",
                                            [](double a) { return 0.006 + 0.0025 * std::cos(a); });
  auto mesh = heat::make_section_mesh(Section::around, edge, columns);
  std::vector<heat::Boundary> inner;
  for (std::size_t j = 0; j < m; ++j) {
    bool const wet = std::cos(mesh.position(j)) > 0.8;
    inner.push_back(wet ? heat::Boundary(heat::Convection{200.0, 283.0}) : fill());
  }
  return {{std::move(mesh), inner, std::vector<heat::Boundary>(m, heat::FixedTemperature{281.0})},
          std::move(rate),
          "liner",
          source,
          tolerance,
          properties};
}

/// Layers at their own starting temperatures; the first cure state alpha0, the others 1.
std::vector<double> start(SectionWall const& wall, double alpha0 = 0.01) {
  auto const& mesh = wall.conduction().mesh();
  auto const m = mesh.columns();
  std::vector<double> y(wall.size(), 0.0);
  for (std::size_t c = 0; c < wall.cells(); ++c) {
    auto const& name = mesh.layer(c / m, c % m).name;
    y[c] = name == "bladder" ? 312.0 : name == "liner" ? 298.0 : 281.0;
  }
  auto const r = wall.reacting_cells();
  for (std::size_t j = 0; j < r * wall.states(); ++j) y[wall.cells() + j] = j < r ? alpha0 : 1.0;
  wall.to_state(y);
  return y;
}

template <class System>
std::vector<double> solve(System& wall, std::vector<double> const& y0, double end,
                          std::size_t* steps = nullptr) {
  numerics::DenseStepper<System> stepper;
  stepper.initialize(y0, 0.0, 0.0);
  for (double const stop : {3600.0, 7200.0, end}) {
    while (stepper.current_time() < std::min(stop, end)) stepper.do_step(wall, std::min(stop, end));
  }
  if (steps != nullptr) *steps = stepper.steps();
  return stepper.current_state();
}

struct Parity {
  Section section;
  std::vector<double> edge;
};

// The one-dimensional wall is the reference: every column must be it, to round-off.
TEST(SectionWall, IsTheOneDimensionalWallWhereAllColumnsAreAlike) {
  LaminateProperties const varying{295.0, 1.5e-3, -0.1, 1e-3, 0.2};
  for (auto const& [section, edge] : {Parity{Section::around, heat::equal_edges(0.0, 2.0 * pi, 6)},
                                      {Section::around, {0.0, 0.3, 1.4, 2.0, pi}},
                                      {Section::along, {0.0, 0.01, 0.05, 0.4, 0.41}}}) {
    for (bool const many_states : {false, true}) {
      auto const rate = many_states ? inhibited() : reactive();
      auto const properties = many_states ? varying : LaminateProperties{};
      auto const m = edge.size() - 1;
      std::vector<heat::Column> const columns(m, {0.04, layers(8)});
      SectionWall wall(
          {heat::make_section_mesh(section, edge, columns), std::vector<heat::Boundary>(m, fill()),
           std::vector<heat::Boundary>(m, heat::FixedTemperature{281.0})},
          rate, "liner", source, {1e-3, 1e-6}, properties);
      Wall one({heat::make_mesh(heat::Geometry::cylinder, 0.04, layers(8)), fill(),
                heat::FixedTemperature{281.0}},
               rate, 1, source, {1e-3, 1e-6}, properties);
      auto const y0 = start(wall);
      std::vector<double> x0(one.size(), 0.0);
      auto const n = one.cells();
      for (std::size_t i = 0; i < n; ++i) x0[i] = y0[i * m];
      for (std::size_t j = 0; j < one.reacting_cells() * one.states(); ++j) {
        x0[n + j] = y0[wall.cells() + j * m];
      }
      std::size_t steps2 = 0, steps1 = 0;
      auto const y = solve(wall, y0, 10000.0, &steps2);
      auto const x = solve(one, x0, 10000.0, &steps1);
      EXPECT_EQ(steps2, steps1);
      double worst = 0.0;
      for (std::size_t c = 0; c < wall.cells(); ++c) {
        worst = std::max(worst, std::abs(y[c] - x[c / m]) / 300.0);
      }
      for (std::size_t j = 0; j < wall.reacting_cells() * wall.states(); ++j) {
        worst = std::max(worst, std::abs(y[wall.cells() + j] - x[n + j / m]));
      }
      EXPECT_LT(worst, 1e-10);
      EXPECT_GT(x[n], 0.2) << "nothing cured";
    }
  }
}

TEST(SectionWall, EnergyClosesAtEveryTolerance) {
  LaminateProperties const varying{295.0, 1.5e-3, -0.1, 1e-3, 0.2};
  for (double const scale : {100.0, 1.0}) {
    for (bool const vary : {false, true}) {
      auto wall = eggshaped({5e-3 * scale, 2e-5 * scale}, 6, 10, vary ? inhibited() : reactive(),
                            vary ? varying : LaminateProperties{});
      auto const y0 = start(wall);
      auto const y = solve(wall, y0, 30000.0);
      EXPECT_LT(wall.energy_residual(y0, y), 1e-11);
      EXPECT_GT(y[wall.cells()], 0.3) << "nothing happened that could have failed to close";
    }
  }
}

// The split (d - J_radial)(1 - J_across/d) differs from (d - J) by J_radial J_across/d: solving
// with it what (d - J) made of x leaves an error that falls as 1/d^2. J is from central
// differences.
TEST(SectionWall, SplitSolveApproachesTheWholeJacobianAsTheStepShrinks) {
  std::vector<heat::Column> const columns(5, {0.04, layers(4)});
  auto const edge = heat::equal_edges(0.0, 2.0 * pi, 5);
  std::vector<heat::Boundary> inner(5, fill());
  inner[2] = heat::Convection{50.0, 285.0, 0.0, 0.9, 290.0};
  SectionWall wall({heat::make_section_mesh(Section::around, edge, columns), inner,
                    std::vector<heat::Boundary>(5, heat::FixedTemperature{281.0})},
                   reactive(), "liner", source, {1e-6, 1e-6});
  auto const n = wall.size();
  auto y = start(wall, 0.3);
  for (std::size_t c = 0; c < wall.cells(); ++c) y[c] += 3.0 * std::sin(static_cast<double>(c));
  std::vector<double> f(n), up(n), down(n), x(n), Jx(n, 0.0);
  wall.linearise(1000.0, y, f);
  for (std::size_t i = 0; i < n; ++i) x[i] = std::cos(1.7 * static_cast<double>(i));
  for (std::size_t k = 0; k < n; ++k) {
    double const e = k < wall.cells() ? 1e-3 : 1e-6;
    auto moved = y;
    moved[k] += e;
    wall.evaluate(1000.0, moved, up);
    moved[k] -= 2.0 * e;
    wall.evaluate(1000.0, moved, down);
    for (std::size_t i = 0; i < n; ++i) Jx[i] += (up[i] - down[i]) / (2.0 * e) * x[k];
  }
  auto const error = [&](double d) {
    EXPECT_TRUE(wall.factorise(d));
    std::vector<double> rhs(n);
    for (std::size_t i = 0; i < n; ++i) rhs[i] = d * x[i] - Jx[i];
    wall.solve(rhs);
    double worst = 0.0;
    for (std::size_t i = 0; i + 2 < n; ++i) worst = std::max(worst, std::abs(rhs[i] - x[i]));
    return worst;
  };
  double const coarse = error(100.0), fine = error(1000.0);
  EXPECT_NEAR(std::log10(coarse / fine), 2.0, 0.1) << coarse << ' ' << fine;
}

TEST(SectionWall, TimeDerivativeAgreesWithDifferences) {
  std::vector<heat::Column> const columns(3, {0.04, layers(4)});
  std::vector<heat::Boundary> inner(3, fill());
  inner[1] =
      heat::Convection{12.0, 300.0, 0.0, 0.9, numerics::Schedule({0.0, 7200.0}, {280.0, 330.0})};
  SectionWall wall({heat::make_section_mesh(Section::around, {0.0, 1.0, 2.0, 3.0}, columns), inner,
                    std::vector<heat::Boundary>(3, heat::FixedTemperature{281.0})},
                   reactive(), "liner", source, {1e-6, 1e-6});
  auto const y = start(wall, 0.3);
  std::vector<double> f(wall.size()), up(wall.size()), down(wall.size()), ft(wall.size());
  wall.linearise(1000.0, y, f);
  ASSERT_TRUE(wall.time_derivative(ft));
  wall.evaluate(1001.0, y, up);
  wall.evaluate(999.0, y, down);
  double largest = 0.0;
  for (std::size_t i = 0; i < wall.size(); ++i) {
    EXPECT_NEAR(ft[i], 0.5 * (up[i] - down[i]), 1e-6 * (1e-3 + std::abs(ft[i])));
    largest = std::max(largest, std::abs(ft[i]));
  }
  EXPECT_GT(largest, 1e-3);
}

TEST(Convergence2, ThirdOrderInTimeForTheCoupledWall) {
  auto const at = [](int n) {
    // It starts from a state half an hour old: right after unlike layers meet no method has its
    // order.
    auto tight = eggshaped({1e-5, 1e-8}, 4, 6);
    auto y = solve(tight, start(tight), 1800.0);
    auto wall = eggshaped({1e6, 1e6}, 4, 6);
    double const step = 1800.0 / n;
    numerics::DenseStepper<SectionWall> stepper(numerics::ros34pw2, {.max_step = step});
    stepper.initialize(y, 1800.0, step);
    while (stepper.current_time() < 3600.0) stepper.do_step(wall, 3600.0);
    return stepper.current_state();
  };
  auto const a = at(400), b = at(800), c = at(1600);
  double ab = 0.0, bc = 0.0;
  for (std::size_t i = 0; i < a.size() - 2; ++i) {
    ab = std::max(ab, std::abs(a[i] - b[i]));
    bc = std::max(bc, std::abs(b[i] - c[i]));
  }
  EXPECT_GT(std::log2(ab / bc), 2.9) << ab << ' ' << bc;
}

TEST(Convergence2, SecondOrderInSpaceForTheCoupledEggshapedWall) {
  // A smooth case: conditions vary round the pipe without a jump.
  auto const cured = [](std::size_t n) {
    auto const edge = heat::equal_edges(0.0, pi, n);
    auto const columns = heat::fitted_columns(
        edge, 0.05, layers(n), "liner", [](double a) { return 0.006 + 0.0025 * std::cos(a); });
    auto mesh = heat::make_section_mesh(Section::around, edge, columns);
    std::vector<heat::Boundary> inner;
    for (std::size_t j = 0; j < n; ++j) {
      inner.push_back(heat::Convection{30.0, 305.0 - 15.0 * std::cos(mesh.position(j))});
    }
    SectionWall wall(
        {std::move(mesh), inner, std::vector<heat::Boundary>(n, heat::Convection{25.0, 285.0})},
        reactive(), "liner", source, {1e-5, 1e-8});
    std::vector<double> y(wall.size(), 0.0);
    for (std::size_t c = 0; c < wall.cells(); ++c) y[c] = 290.0;
    for (std::size_t j = 0; j < wall.reacting_cells(); ++j) y[wall.cells() + j] = 0.01;
    y = solve(wall, y, 7200.0);
    double sum = 0.0, volume = 0.0;
    for (std::size_t j = 0; j < wall.reacting_cells(); ++j) {
      double const v = wall.conduction().volume()[wall.reacting()[j]];
      sum += v * y[wall.cells() + j];
      volume += v;
    }
    return sum / volume;
  };
  double const a = cured(8), b = cured(16), c = cured(32);
  EXPECT_GT(std::log2(std::abs((a - b) / (b - c))), 1.9) << a - b << ' ' << b - c;
}

// What the second dimension is for: the wet invert lags, and is named.
TEST(SectionWall, StandingWaterAtTheInvertHoldsTheCureBackThere) {
  auto wall = eggshaped({5e-3, 1e-6}, 8, 24);
  auto const y = solve(wall, start(wall), 14400.0);
  auto const alpha = std::span(y).subspan(wall.cells(), wall.reacting_cells());
  auto const least =
      static_cast<std::size_t>(std::min_element(alpha.begin(), alpha.end()) - alpha.begin());
  auto const most =
      static_cast<std::size_t>(std::max_element(alpha.begin(), alpha.end()) - alpha.begin());
  auto const& mesh = wall.conduction().mesh();
  auto const where = [&](std::size_t j) {
    return std::string(heat::clock_position(mesh.position(wall.reacting()[j] % mesh.columns())));
  };
  EXPECT_EQ(where(least), "invert");
  EXPECT_NE(where(most), "invert");
  EXPECT_LT(alpha[least], 0.7 * alpha[most]);
  EXPECT_NE(wall.worst(start(wall)).find("bladder row 1 of 32, column 1 of 24, invert"),
            std::string::npos)
      << wall.worst(start(wall));
}

// Along the pipe: a gap without resin cures nowhere itself, and far from it the wall is the
// one-dimensional one.
TEST(SectionWall, FarFromABareGapTheWallIsOneDimensional) {
  auto whole = layers(8), bare = layers(8);
  bare[1].name = "gap";
  bare[1].material = {"air", 0.026, 1.2, 1005.0};
  std::vector<double> edge{0.0, 0.01, 0.02, 0.03};
  while (edge.back() < 1.5) edge.push_back(edge.back() + 0.2 * (edge.back() - 0.01));
  std::vector<heat::Column> columns(edge.size() - 1, {0.04, whole});
  for (std::size_t j = 0; j < 3; ++j) columns[j].layers = bare;
  auto const m = columns.size();
  SectionWall wall({heat::make_section_mesh(Section::along, edge, columns),
                    std::vector<heat::Boundary>(m, fill()),
                    std::vector<heat::Boundary>(m, heat::FixedTemperature{281.0})},
                   reactive(), "liner", source, {1e-3, 1e-5});
  EXPECT_EQ(wall.reacting_cells(), 8 * (m - 3));
  auto const y0 = start(wall);
  auto const y = solve(wall, y0, 10000.0);
  EXPECT_LT(wall.energy_residual(y0, y), 1e-11);

  Wall one({heat::make_mesh(heat::Geometry::cylinder, 0.04, whole), fill(),
            heat::FixedTemperature{281.0}},
           reactive(), 1, source, {1e-3, 1e-5});
  std::vector<double> x0(one.size(), 0.0);
  for (std::size_t i = 0; i < one.cells(); ++i) x0[i] = y0[i * m + m - 1];
  for (std::size_t j = 0; j < 8; ++j) x0[one.cells() + j] = 0.01;
  auto const x = solve(one, x0, 10000.0);
  double at_gap = 0.0;
  for (std::size_t i = 0; i < one.cells(); ++i) {
    EXPECT_NEAR(y[i * m + m - 1], x[i], 5e-3);
    at_gap = std::max(at_gap, std::abs(y[i * m] - x[i]));
  }
  EXPECT_GT(at_gap, 0.5);
}

}  // namespace
}  // namespace cure::process
