#include "cure/heat/section_conduction.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <tuple>
#include <vector>

#include "cure/numerics/rosenbrock.hpp"
#include "cure/process/section_wall.hpp"

namespace cure::heat {
namespace {

constexpr double pi = std::numbers::pi;
Material const plain{"plain", 0.5, 1000.0, 1000.0};  // diffusivity 5e-7 m2/s

process::SectionWall inert(SectionMesh mesh, std::vector<Boundary> inner,
                           std::vector<Boundary> outer, double tolerance = 1e-5) {
  return {{std::move(mesh), std::move(inner), std::move(outer)},
          {},
          "no resin here",
          0.0,
          {tolerance, tolerance}};
}

/// Temperatures after a time long enough to be steady.
std::vector<double> steady(process::SectionWall& wall, double T0, double time) {
  std::vector<double> y(wall.size(), 0.0);
  for (std::size_t c = 0; c < wall.cells(); ++c) y[c] = T0;
  numerics::DenseStepper<process::SectionWall> stepper;
  stepper.initialize(y, 0.0, 0.0);
  while (stepper.current_time() < time) stepper.do_step(wall, time);
  y = stepper.current_state();
  y.resize(wall.cells());
  return y;
}

/// Heat into the body through its inner surface [W].
double heat_in(SectionConduction const& conduction, std::vector<double> const& T) {
  auto flow = conduction.make_flow();
  conduction.set_heats(0.0, T, std::vector<double>(T.size(), 1.0), flow);
  return flow.heat_in;
}

/// Columns between a circle of radius R2 and one of radius R1 whose centre is `off` towards the
/// invert, angle 0.
std::vector<Column> eccentric(std::vector<double> const& edge, double R1, double R2, double off,
                              std::size_t rows) {
  std::vector<Column> columns;
  for (std::size_t j = 0; j + 1 < edge.size(); ++j) {
    double const a = 0.5 * (edge[j] + edge[j + 1]);
    double const s = off * std::sin(a);
    double const r = off * std::cos(a) + std::sqrt(R1 * R1 - s * s);
    columns.push_back({r, {{"body", R2 - r, plain, rows, 1.0, 0.0}}});
  }
  return columns;
}

// Eccentric circular cylinders, F.P. Incropera et al., "Fundamentals of Heat and Mass Transfer",
// Table 4.1, case 7: S = 2 pi L/arccosh((D^2 + d^2 - 4 z^2)/(2 D d)).
TEST(Eccentric, SteadyHeatFollowsTheShapeFactor) {
  for (double const off : {0.0, 0.0015, 0.006}) {
    double const d = 0.088, D = 0.12;
    double const S = 2.0 * pi / std::acosh((D * D + d * d - 4.0 * off * off) / (2.0 * D * d));
    std::vector<double> error;
    for (std::size_t const n : {8U, 16U, 32U}) {
      auto const edge = equal_edges(0.0, pi, n);
      auto wall =
          inert(make_section_mesh(Section::around, edge, eccentric(edge, d / 2, D / 2, off, n)),
                std::vector<Boundary>(n, FixedTemperature{320.0}),
                std::vector<Boundary>(n, FixedTemperature{280.0}));
      auto const q = 2.0 * heat_in(wall.conduction(), steady(wall, 300.0, 5000.0));
      error.push_back(std::abs(q / (S * plain.conductivity * 40.0) - 1.0));
    }
    if (off == 0.0) {
      EXPECT_LT(error[0], 1e-6);  // logarithmic conductances: exact on any mesh
    } else {
      EXPECT_LT(error[2], 2e-4) << "off centre by " << off;
      EXPECT_GT(std::log2(error[1] / error[2]), 1.9) << error[0] << ' ' << error[1];
    }
  }
}

// T = r cos(angle) is harmonic and its faces and edges are all crossed aslant on an eccentric mesh.
TEST(Eccentric, SecondOrderForAFieldAcrossSlantingFaces) {
  auto const error = [](std::size_t n) {
    double const R1 = 0.044, R2 = 0.06, off = 0.005;
    auto const edge = equal_edges(0.0, 2.0 * pi, 2 * n);
    auto const mesh = make_section_mesh(Section::around, edge, eccentric(edge, R1, R2, off, n));
    std::vector<Boundary> inner, outer;
    for (std::size_t j = 0; j < 2 * n; ++j) {
      double const x = std::cos(mesh.position(j));
      inner.push_back(FixedTemperature{300.0 + 1000.0 * mesh.column[j].face.front() * x});
      outer.push_back(FixedTemperature{300.0 + 1000.0 * R2 * x});
    }
    auto wall = inert(mesh, inner, outer);
    auto const T = steady(wall, 300.0, 20000.0);
    double sum = 0.0;
    for (std::size_t c = 0; c < T.size(); ++c) {
      auto const j = c % (2 * n);
      double const exact =
          300.0 + 1000.0 * mesh.column[j].node[c / (2 * n)] * std::cos(mesh.position(j));
      sum += (T[c] - exact) * (T[c] - exact);
    }
    return std::sqrt(sum / static_cast<double>(T.size()));
  };
  double const a = error(8), b = error(16), c = error(32);
  EXPECT_GT(std::log2(a / b), 1.9) << a << ' ' << b;
  EXPECT_GT(std::log2(b / c), 1.9) << b << ' ' << c;
}

/// Root mean square error in an annulus or a length of pipe whose steady temperature is known
/// everywhere.
double harmonic_error(Section section, double last, std::size_t n,
                      std::function<double(double r, double s)> const& exact) {
  double const R1 = 0.03, R2 = 0.06;
  auto const edge = equal_edges(0.0, last, n);
  std::vector<Column> const columns(n, {R1, {{"body", R2 - R1, plain, n, 1.0, 0.0}}});
  auto const mesh = make_section_mesh(section, edge, columns);
  std::vector<Boundary> inner, outer;
  for (std::size_t j = 0; j < n; ++j) {
    inner.push_back(FixedTemperature{exact(R1, mesh.position(j))});
    outer.push_back(FixedTemperature{exact(R2, mesh.position(j))});
  }
  auto wall = inert(mesh, inner, outer);
  auto const T = steady(wall, 300.0, 20000.0);
  double sum = 0.0;
  for (std::size_t c = 0; c < T.size(); ++c) {
    double const e = T[c] - exact(mesh.column[0].node[c / n], mesh.position(c % n));
    sum += e * e;
  }
  return std::sqrt(sum / static_cast<double>(T.size()));
}

// Around: 300 + (A r^2 + B/r^2) cos 2 theta solves Laplace's equation. Along: I0(kr) cos kz does
// (H.S. Carslaw, J.C. Jaeger, "Conduction of Heat in Solids", 2nd ed., 1959, chs. 7 and 8).
TEST(Convergence2, SecondOrderInSpaceAroundAndAlong) {
  auto const around = [](double r, double s) {
    double const x = r / 0.05;
    return 300.0 + (10.0 * x * x + 5.0 / (x * x)) * std::cos(2.0 * s);
  };
  double const k = pi / 0.1;
  auto const along = [&](double r, double z) {
    return 300.0 + 10.0 * std::cyl_bessel_i(0.0, k * r) * std::cos(k * z);
  };
  for (auto const& [section, last, exact] :
       {std::tuple<Section, double, std::function<double(double, double)>>{Section::around, pi,
                                                                           around},
        {Section::along, 0.1, along}}) {
    double const a = harmonic_error(section, last, 8, exact);
    double const b = harmonic_error(section, last, 16, exact);
    double const c = harmonic_error(section, last, 32, exact);
    EXPECT_GT(std::log2(a / b), 1.9) << a << ' ' << b;
    EXPECT_GT(std::log2(b / c), 1.9) << b << ' ' << c;
  }
}

// A circle and its two halves are one problem.
TEST(SectionMesh, HalfACircleIsTheCircleWhereBothSidesAreAlike) {
  auto const solve = [](double last, std::size_t n) {
    auto const edge = equal_edges(0.0, last, n);
    auto const mesh =
        make_section_mesh(Section::around, edge, eccentric(edge, 0.044, 0.06, 0.004, 6));
    std::vector<Boundary> inner;
    for (std::size_t j = 0; j < n; ++j) {
      bool const wet = std::cos(mesh.position(j)) > 0.7;
      inner.push_back(Convection{wet ? 300.0 : 8.0, wet ? 283.0 : 320.0});
    }
    auto wall = inert(mesh, inner, std::vector<Boundary>(n, Convection{15.0, 281.0}), 1e-8);
    return steady(wall, 300.0, 600.0);
  };
  auto const whole = solve(2.0 * pi, 24), half = solve(pi, 12);
  for (std::size_t i = 0; i < 6; ++i) {
    for (std::size_t j = 0; j < 12; ++j) {
      EXPECT_NEAR(whole[i * 24 + j], half[i * 12 + j], 2e-6);
      EXPECT_NEAR(whole[i * 24 + 23 - j], half[i * 12 + j], 2e-6);
    }
  }
}

TEST(SectionMesh, FittedColumnsKeepTheOuterFaceAndFollowTheThickness) {
  std::vector<Layer> const layers{{"bladder", 0.004, plain, 3, 1.0, 0.0},
                                  {"liner", 0.006, plain, 5, 1.0, 0.0},
                                  {"pipe", 0.008, plain, 2, 1.0, 0.0}};
  auto const edge = equal_edges(0.0, pi, 9);
  auto const columns = fitted_columns(edge, 0.05, layers, "liner",
                                      [](double a) { return 0.006 + 0.002 * std::cos(a); });
  auto const mesh = make_section_mesh(Section::around, edge, columns);
  for (std::size_t j = 0; j < 9; ++j) {
    double const t = 0.006 + 0.002 * std::cos(mesh.position(j));
    EXPECT_NEAR(mesh.column[j].face[8], 0.05, 1e-15);
    EXPECT_NEAR(mesh.column[j].face[3], 0.05 - t, 1e-15);
    EXPECT_NEAR(mesh.column[j].face[0], 0.046 - t, 1e-15);
    EXPECT_NEAR(mesh.slope[std::size_t{8} * 9 + j], 0.0, 1e-12);
    // dr/ds of the liner's inner face, to the error of a difference over two columns.
    double const exact = 0.002 * std::sin(mesh.position(j)) / (0.05 - t);
    EXPECT_NEAR(mesh.slope[std::size_t{3} * 9 + j], exact, 0.03 * std::abs(exact) + 1e-4);
  }
  EXPECT_THROW((void)fitted_columns(edge, 0.05, layers, "linre", [](double) { return 0.006; }),
               InputError);
}

TEST(SectionMesh, RefusesImpossibleColumns) {
  std::vector<Layer> const layers{{"a", 0.01, plain, 4, 1.0, 0.0}};
  std::vector<Layer> const finer{{"a", 0.01, plain, 5, 1.0, 0.0}};
  std::vector<Column> const two{{0.04, layers}, {0.04, layers}};
  EXPECT_NO_THROW((void)make_section_mesh(Section::along, {0.0, 0.1, 0.2}, two));
  EXPECT_THROW((void)make_section_mesh(Section::along, {0.0, 0.1}, two), InputError);
  EXPECT_THROW((void)make_section_mesh(Section::along, {0.0, 0.1, 0.1}, two), InputError);
  EXPECT_THROW((void)make_section_mesh(Section::around, {0.0, 3.0, 7.0}, two), InputError);
  std::vector<Column> const unlike{{0.04, layers}, {0.04, finer}};
  EXPECT_THROW((void)make_section_mesh(Section::along, {0.0, 0.1, 0.2}, unlike), InputError);
  std::vector<Column> const solid{{0.04, layers}, {0.0, layers}};
  EXPECT_THROW((void)make_section_mesh(Section::along, {0.0, 0.1, 0.2}, solid), InputError);
  EXPECT_THROW(SectionConduction(make_section_mesh(Section::along, {0.0, 0.1, 0.2}, two),
                                 std::vector<Boundary>(1, Insulated{}),
                                 std::vector<Boundary>(2, Insulated{})),
               InputError);
}

TEST(SectionMesh, NamesAnglesAsTheTradeDoes) {
  EXPECT_STREQ(clock_position(0.0), "invert");
  EXPECT_STREQ(clock_position(0.25 * pi), "haunch");
  EXPECT_STREQ(clock_position(0.5 * pi), "springline");
  EXPECT_STREQ(clock_position(1.5 * pi), "springline");
  EXPECT_STREQ(clock_position(1.25 * pi), "shoulder");
  EXPECT_STREQ(clock_position(pi), "crown");
  EXPECT_STREQ(clock_position(1.99 * pi), "invert");
  EXPECT_NEAR(wetted_angle(0.05, 0.05), 0.5 * pi, 1e-12);
  EXPECT_EQ(wetted_angle(0.0, 0.05), 0.0);
  EXPECT_EQ(wetted_angle(0.2, 0.05), pi);
}

// Balance at an insulated-behind, radiating and convecting surface, steady.
TEST(Radiation2, SteadyTemperatureBalancesConvectionAndRadiation) {
  std::vector<Column> const columns(3, {0.05, {{"a", 0.003, plain, 4, 1.0, 0.0}}});
  Convection const sky{6.0, 300.0, 120.0, 0.9, 265.0};
  auto wall = inert(make_section_mesh(Section::around, equal_edges(0.0, pi, 3), columns),
                    std::vector<Boundary>(3, Insulated{}), std::vector<Boundary>(3, sky), 1e-6);
  auto const T = steady(wall, 290.0, 1e6);
  auto const gain = [](double s) {
    return 6.0 * (300.0 - s) + 120.0 +
           0.9 * stefan_boltzmann * (std::pow(265.0, 4) - std::pow(s, 4));
  };
  for (double const x : T) EXPECT_NEAR(gain(x), 0.0, 1e-4);
}

}  // namespace
}  // namespace cure::heat
