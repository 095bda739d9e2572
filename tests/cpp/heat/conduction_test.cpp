#include "cure/heat/conduction.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

#include "support.hpp"

namespace cure::heat {
namespace {

Material const plain{"plain", 0.5, 1000.0, 1000.0};  // diffusivity 5e-7 m2/s

// S.W. Springer, S.W. Tsai's formula with an aerospace laminate's constants: k_f 3.960, k_m 0.212
// W/(m K), v 0.574 give 0.63698 (S. Amini Niaki et al., Comput. Methods Appl. Mech. Eng. 384,
// 113959, 2021, Tables 1 and 2, as transcribed).
TEST(Laminate, TransverseConductivityOfAPublishedLaminate) {
  EXPECT_NEAR(transverse_conductivity(0.212, 3.960, 0.574), 0.63698, 5e-6);
}

TEST(Laminate, MixingRulesHaveTheirLimits) {
  EXPECT_NEAR(transverse_conductivity(0.2, 1.0, 0.0), 0.2, 1e-15);
  EXPECT_NEAR(transverse_conductivity(0.2, 0.2, 0.5), 0.2, 1e-15);
  double before = 0.0;
  for (double v = 0.0; v < 0.78; v += 0.02) {
    double const k = transverse_conductivity(0.2, 1.1, v);
    EXPECT_GT(k, before);
    // Between the series and parallel bounds (e.g. Z. Hashin, S. Shtrikman, 1962).
    EXPECT_LE(k, (1.0 - v) * 0.2 + v * 1.1 + 1e-12);
    EXPECT_GE(k, 1.0 / ((1.0 - v) / 0.2 + v / 1.1) - 1e-12);
    before = k;
  }
  EXPECT_THROW(transverse_conductivity(0.2, 1.0, 0.8), InputError);
  auto const mix = laminate({"r", 0.2, 1150.0, 1800.0}, {"f", 1.1, 2550.0, 810.0}, 0.25);
  EXPECT_NEAR(mix.heat_capacity(), 0.75 * 1150 * 1800 + 0.25 * 2550 * 810, 1e-6);
}

// Composite cylinder, steady: logarithmic profiles in series with the films and contacts
// (H.S. Carslaw, J.C. Jaeger, "Conduction of Heat in Solids", 2nd ed., 1959, sec. 7.2).
TEST(CompositeCylinder, SteadyStateIsExactAtTheNodesOnAnyMesh) {
  Material const rubber{"rubber", 0.14, 1100, 1500}, pvc{"pvc", 0.17, 1390, 900},
      soil{"soil", 1.9, 1900, 1300};
  std::vector<Layer> const layers{{"a", 0.004, rubber, 3, 1.0, 0.002},
                                  {"b", 0.006, pvc, 4, 2.5, 0.001},
                                  {"c", 0.3, soil, 7, 30.0, 0.0}};
  double const h = 12.0, Ti = 320.0, To = 280.0, r0 = 0.04;
  Conduction conduction(make_mesh(Geometry::cylinder, r0, layers), Convection{h, Ti},
                        FixedTemperature{To});
  auto const mesh = conduction.mesh();
  auto wall = test::inert_wall(std::move(conduction), 1e-6);
  auto const y = test::solve(wall, test::uniform_state(wall, 300.0), 1e9);

  double const two_pi = 2.0 * std::numbers::pi;
  double const r1 = r0 + 0.004, r2 = r1 + 0.006, r3 = r2 + 0.3;
  double const film = 1.0 / (h * two_pi * r0);
  double const Ra = std::log(r1 / r0) / (two_pi * 0.14), ca = 0.002 / (two_pi * r1);
  double const Rb = std::log(r2 / r1) / (two_pi * 0.17), cb = 0.001 / (two_pi * r2);
  double const Rc = std::log(r3 / r2) / (two_pi * 1.9);
  double const q = (Ti - To) / (film + Ra + ca + Rb + cb + Rc);  // [W/m]
  for (std::size_t i = 0; i < mesh.size(); ++i) {
    double const r = mesh.node[i];
    double before = film;
    if (mesh.layer[i] == 0) before += std::log(r / r0) / (two_pi * 0.14);
    if (mesh.layer[i] == 1) before += Ra + ca + std::log(r / r1) / (two_pi * 0.17);
    if (mesh.layer[i] == 2) before += Ra + ca + Rb + cb + std::log(r / r2) / (two_pi * 1.9);
    EXPECT_NEAR(y[i], Ti - q * before, 1e-6) << "r = " << r;
  }
}

struct OneTerm {
  Geometry geometry;
  double Bi, zeta, C;
};

// One-term coefficients of Y.A. Cengel, "Heat and Mass Transfer", Table 4-2 (four decimals), for
// Fo > 0.2: theta_centre = C exp(-zeta^2 Fo).
TEST(Transient, OneTermTableOfAHandbook) {
  for (auto const& row : {
           OneTerm{Geometry::slab, 0.01, 0.0998, 1.0017},
           {Geometry::slab, 1, 0.8603, 1.1191},
           {Geometry::slab, 10, 1.4289, 1.2620},
           {Geometry::cylinder, 0.01, 0.1412, 1.0025},
           {Geometry::cylinder, 0.1, 0.4417, 1.0246},
           {Geometry::cylinder, 1, 1.2558, 1.2071},
           {Geometry::cylinder, 10, 2.1795, 1.5677},
           {Geometry::sphere, 0.1, 0.5423, 1.0298},
           {Geometry::sphere, 1, 1.5708, 1.2732},
           {Geometry::sphere, 10, 2.8363, 1.9249},
       }) {
    double const L = 0.02;
    double const h = row.Bi * plain.conductivity / L;
    auto conduction =
        test::one_layer(row.geometry, 0.0, L, plain, 160, Insulated{}, Convection{h, 280.0});
    auto const mesh = conduction.mesh();
    auto wall = test::inert_wall(std::move(conduction));
    for (double const Fo : {0.6, 1.2}) {
      auto const y =
          test::solve(wall, test::uniform_state(wall, 300.0), Fo * L * L / plain.diffusivity());
      double const theta = (test::centre_temperature(mesh, y) - 280.0) / 20.0;
      double const table = row.C * std::exp(-row.zeta * row.zeta * Fo);
      // The table's fourth decimals, the neglected second term at Fo = 0.6, and the mesh.
      EXPECT_NEAR(theta, table, 4e-4)
          << static_cast<int>(row.geometry) << " Bi " << row.Bi << " Fo " << Fo;
    }
  }
}

// Full Fourier-Bessel series at Bi = infinity, centre (Carslaw & Jaeger 1959, secs. 3.3 and 7.6).
TEST(Transient, FixedSurfaceAgainstTheFullSeries) {
  struct Row {
    Geometry geometry;
    double Fo, theta;
  };
  for (auto const& row : {Row{Geometry::cylinder, 0.1, 0.848355},
                          {Geometry::cylinder, 0.2, 0.501487},
                          {Geometry::cylinder, 0.5, 0.088890},
                          {Geometry::slab, 0.1, 0.949305},
                          {Geometry::slab, 0.2, 0.772312},
                          {Geometry::slab, 0.5, 0.370777}}) {
    double const L = 0.02;
    auto conduction =
        test::one_layer(row.geometry, 0.0, L, plain, 200, Insulated{}, FixedTemperature{280.0});
    auto const mesh = conduction.mesh();
    auto wall = test::inert_wall(std::move(conduction));
    auto const y =
        test::solve(wall, test::uniform_state(wall, 300.0), row.Fo * L * L / plain.diffusivity());
    EXPECT_NEAR((test::centre_temperature(mesh, y) - 280.0) / 20.0, row.theta, 1e-4);
  }
}

// Semi-infinite body, surface step: theta = erfc(x / (2 sqrt(a t))) (Carslaw & Jaeger 1959,
// sec. 2.4).
TEST(Transient, SemiInfiniteBodyFollowsErfc) {
  std::vector<Layer> const layers{{"ground", 1.0, plain, 300, 40.0, 0.0}};
  Conduction conduction(make_mesh(Geometry::slab, 0.0, layers), FixedTemperature{310.0},
                        Insulated{});
  auto const mesh = conduction.mesh();
  auto wall = test::inert_wall(std::move(conduction));
  double const t = 20000.0;
  auto const y = test::solve(wall, test::uniform_state(wall, 290.0), t);
  for (std::size_t i = 0; i < mesh.size(); i += 10) {
    double const x = mesh.node[i];
    if (x > 0.6) break;
    double const exact = 290.0 + 20.0 * std::erfc(x / (2.0 * std::sqrt(plain.diffusivity() * t)));
    EXPECT_NEAR(y[i], exact, 5e-3) << "x = " << x;
  }
}

// A thin, well-conducting wall with a surface flux heats uniformly.
TEST(Boundary, FluxAndTableDeliverTheirHeat) {
  Material const copper{"copper", 400.0, 8900.0, 385.0};
  Schedule const flux({0.0, 100.0, 200.0}, {0.0, 500.0, 0.0});
  auto wall = test::inert_wall(
      test::one_layer(Geometry::slab, 0.0, 0.002, copper, 4, Flux{flux}, Insulated{}), 1e-7);
  auto const y = test::solve(wall, test::uniform_state(wall, 300.0), 300.0);
  double const heat = 0.5 * 200.0 * 500.0;  // [J/m2], area under the triangle
  for (std::size_t i = 0; i < 4; ++i) EXPECT_NEAR(y[i], 300.0 + heat / (0.002 * 8900 * 385), 1e-6);
  EXPECT_NEAR(y[wall.cells()], heat, 1e-6 * heat);
}

// Sun absorbed at a convecting surface: steady surface temperature T_air + q/h (sol-air).
TEST(Boundary, AbsorbedSunRaisesTheSteadyTemperatureByItsFluxOverH) {
  auto wall = test::inert_wall(test::one_layer(Geometry::cylinder, 0.05, 0.003, plain, 6,
                                               Insulated{}, Convection{10.0, 300.0, 250.0}),
                               1e-6);
  auto const y = test::solve(wall, test::uniform_state(wall, 290.0), 1e6);
  for (std::size_t i = 0; i < 6; ++i) EXPECT_NEAR(y[i], 325.0, 1e-5);
}

// A slab hot inside, convecting and radiating outside, steady: conduction through it equals
// h (T_s - T_air) + emissivity sigma (T_s^4 - T_surroundings^4), with T_s by bisection here.
TEST(Boundary, ARadiatingSurfaceBalancesInTheSteadyState) {
  double const L = 0.02, h = 5.0, e = 0.9, air = 275.0, sky = 255.0, hot = 350.0;
  auto wall =
      test::inert_wall(test::one_layer(Geometry::slab, 0.0, L, plain, 20, FixedTemperature{hot},
                                       Convection{h, air, 0.0, e, sky}),
                       1e-6);
  auto const y = test::solve(wall, test::uniform_state(wall, 300.0), 1e6);
  double low = sky, high = hot;
  for (int i = 0; i < 100; ++i) {
    double const T = 0.5 * (low + high);
    double const out = h * (T - air) + e * stefan_boltzmann * (std::pow(T, 4) - std::pow(sky, 4));
    (plain.conductivity / L * (hot - T) > out ? low : high) = T;
  }
  for (std::size_t i = 0; i < 20; ++i) {
    double const s = (static_cast<double>(i) + 0.5) / 20.0;
    EXPECT_NEAR(y[i], hot + s * (low - hot), 1e-5);
  }
}

// Maximum principle: without a source no temperature leaves the range of the initial and outer
// ones.
TEST(Transient, StaysBetweenTheTemperaturesItWasGiven) {
  std::vector<Layer> const layers{{"a", 0.004, plain, 12, 1.0, 0.001},
                                  {"b", 0.1, plain, 30, 20.0, 0.0}};
  Conduction conduction(make_mesh(Geometry::cylinder, 0.04, layers), Convection{15.0, 285.0},
                        FixedTemperature{277.0});
  auto wall = test::inert_wall(std::move(conduction), 1e-3);
  auto y0 = test::uniform_state(wall, 277.0);
  for (std::size_t i = 0; i < 12; ++i) y0[i] = 318.0;
  numerics::DenseStepper<process::Wall> stepper;
  stepper.initialize(y0, 0.0, 0.0);
  while (stepper.current_time() < 36000.0) {
    stepper.do_step(wall, 36000.0);
    for (std::size_t i = 0; i < wall.cells(); ++i) {
      EXPECT_GT(stepper.current_state()[i], 277.0 - 5e-3);
      EXPECT_LT(stepper.current_state()[i], 318.0 + 5e-3);
    }
  }
}

// Second order in space: the error at the centre of a convecting cylinder falls fourfold a halving.
TEST(Convergence, SecondOrderInSpaceAcrossUnlikeLayers) {
  Material const rubber{"rubber", 0.14, 1100, 1500};
  auto const at = [&](std::size_t n) {
    std::vector<Layer> const layers{{"a", 0.01, rubber, n, 1.0, 0.002},
                                    {"b", 0.01, plain, n, 1.0, 0.0}};
    Conduction conduction(make_mesh(Geometry::cylinder, 0.02, layers), Convection{20.0, 320.0},
                          Convection{40.0, 280.0});
    auto const C = std::vector<double>(conduction.capacity().begin(), conduction.capacity().end());
    auto wall = test::inert_wall(std::move(conduction), 1e-8);
    auto const y = test::solve(wall, test::uniform_state(wall, 290.0), 200.0);
    double heat = 0.0;
    for (std::size_t i = 0; i < wall.cells(); ++i) heat += C[i] * (y[i] - 290.0);
    return heat;
  };
  double const a = at(8), b = at(16), c = at(32);
  EXPECT_GT(std::log2(std::abs((a - b) / (b - c))), 1.9);
}

TEST(Mesh, RefusesImpossibleLayers) {
  auto const make = [](Layer layer) {
    std::vector<Layer> const layers{std::move(layer)};
    return make_mesh(Geometry::cylinder, 0.01, layers);
  };
  EXPECT_THROW(make({"a", -1.0, plain, 4, 1.0, 0.0}), InputError);
  EXPECT_THROW(make({"a", std::nan(""), plain, 4, 1.0, 0.0}), InputError);
  EXPECT_THROW(make({"a", 0.1, plain, 0, 1.0, 0.0}), InputError);
  EXPECT_THROW(make({"a", 0.1, plain, 1000000000, 1.0, 0.0}), InputError);
}

TEST(Growth, FillsTheThicknessFromTheFirstCellWithAnyNumberOfCells) {
  for (std::size_t const n : {2U, 3U, 36U, 300U, 2000U}) {
    for (double const width : {1e-5, 1e-4, 2e-4}) {
      double const growth = growth_from_first_cell(0.5, n, width);
      double const ratio = std::pow(growth, 1.0 / static_cast<double>(n - 1));
      double filled = 0.0, cell = width;
      for (std::size_t j = 0; j < n; ++j, cell *= ratio) filled += cell;
      EXPECT_NEAR(filled, 0.5, 1e-10) << n << " " << width;
    }
  }
  EXPECT_EQ(growth_from_first_cell(0.5, 100, 0.01), 1.0);
}

TEST(Mesh, GrowthStartsFromTheWidthAskedFor) {
  double const growth = growth_from_first_cell(0.4, 36, 0.001);
  std::vector<Layer> const layers{{"a", 0.4, plain, 36, growth, 0.0}};
  auto const mesh = make_mesh(Geometry::cylinder, 0.05, layers);
  EXPECT_NEAR(mesh.face[1] - mesh.face[0], 0.001, 1e-9);
  EXPECT_DOUBLE_EQ(mesh.face.back(), 0.45);
}

}  // namespace
}  // namespace cure::heat
