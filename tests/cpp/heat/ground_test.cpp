#include "cure/heat/ground.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

#include "cure/units.hpp"
#include "support.hpp"

namespace cure::heat {
namespace {

constexpr double pi = std::numbers::pi;

// T. Kusuda, P.R. Achenbach, ASHRAE Trans. 71(1), 61, 1965, with the depth lag; the values were
// worked out apart from this code from the formula, since no published table could be read.
TEST(Ground, WorkedValuesOfKusudaAndAchenbach) {
  auto const g = make_ground_climate(kelvin_from_celsius(10.0), 10.0, 35.0, 0.6e-6);
  EXPECT_NEAR(damping_depth(0.6e-6), 2.454, 1e-3);
  struct Row {
    double depth, day_35, day_126, day_217, amplitude, lag;
  };
  for (auto const& row : {Row{0.0, 0.000, 9.957, 20.000, 10.000, 0.0},
                          {1.0, 3.891, 7.337, 16.109, 6.653, 23.7},
                          {2.0, 6.964, 6.766, 13.036, 4.427, 47.3},
                          {3.0, 8.995, 7.227, 11.005, 2.945, 71.0},
                          {5.0, 10.586, 8.838, 9.414, 1.304, 118.4}}) {
    EXPECT_NEAR(celsius_from_kelvin(g.temperature(row.depth, 35.0)), row.day_35, 1e-3);
    EXPECT_NEAR(celsius_from_kelvin(g.temperature(row.depth, 126.0)), row.day_126, 1e-3);
    EXPECT_NEAR(celsius_from_kelvin(g.temperature(row.depth, 217.5)), row.day_217, 1e-3);
    EXPECT_NEAR(g.amplitude_at(row.depth), row.amplitude, 1e-3);
    EXPECT_NEAR(g.lag(row.depth), row.lag, 0.05);
    // The lag is where the minimum has moved to.
    EXPECT_NEAR(g.temperature(row.depth, 35.0 + g.lag(row.depth)),
                g.mean - g.amplitude_at(row.depth), 1e-9);
  }
}

// The transient solver under a yearly surface wave, against the closed form (H.S. Carslaw, J.C.
// Jaeger, "Conduction of Heat in Solids", 2nd ed., 1959, sec. 2.6): amplitude and lag at 3 depths.
TEST(Ground, TransientSolverReproducesAmplitudeAndLag) {
  double const k = 1.2, capacity = 2e6;
  Material const soil{"soil", k, 2000.0, capacity / 2000.0};
  auto const g = make_ground_climate(283.15, 10.0, 35.0, soil.diffusivity());
  std::vector<double> time, surface;
  for (int day = 0; day <= 366; ++day) {
    time.push_back(day * 86400.0);
    surface.push_back(g.temperature(0.0, day));
  }
  // Ten damping depths; below them the wave has fallen to 5e-5 of its height.
  std::vector<Layer> const layers{
      {"ground", 10.0 * damping_depth(soil.diffusivity()), soil, 160, 40.0, 0.0}};
  Conduction conduction(make_mesh(Geometry::slab, 0.0, layers),
                        FixedTemperature{Schedule(time, surface)}, Insulated{});
  auto const mesh = conduction.mesh();
  auto wall = test::inert_wall(std::move(conduction), 1e-3);
  auto y = test::uniform_state(wall, 0.0);
  for (std::size_t i = 0; i < mesh.size(); ++i) y[i] = g.temperature(mesh.node[i], 0.0);

  numerics::DenseStepper<process::Wall> stepper;
  stepper.initialize(y, 0.0, 0.0);
  std::vector<std::size_t> const cells{40, 70, 85};
  std::vector<double> c(3, 0.0), s(3, 0.0);
  for (int day = 1; day <= 365; ++day) {
    while (stepper.current_time() < day * 86400.0) stepper.do_step(wall, day * 86400.0);
    for (std::size_t i = 0; i < 3; ++i) {
      double const angle = 2.0 * pi * day / 365.0;
      c[i] += stepper.current_state()[cells[i]] * std::cos(angle) * 2.0 / 365.0;
      s[i] += stepper.current_state()[cells[i]] * std::sin(angle) * 2.0 / 365.0;
    }
  }
  for (std::size_t i = 0; i < 3; ++i) {
    double const depth = mesh.node[cells[i]];
    EXPECT_NEAR(std::hypot(c[i], s[i]), g.amplitude_at(depth), 2e-3 * g.amplitude_at(depth))
        << "depth " << depth;
    double const lag = std::atan2(-s[i], -c[i]) * 365.0 / (2.0 * pi) - 35.0;
    EXPECT_NEAR(lag, g.lag(depth), 0.2) << "depth " << depth;
    EXPECT_GT(depth, i == 0 ? 0.3 : mesh.node[cells[i - 1]] + 0.5) << "three separate depths";
  }
}

// A table made from a known wave by exact monthly means gives the wave back.
TEST(Ground, MonthlyTableGivesItsWaveBack) {
  auto const g = make_ground_climate(284.0, 9.0, 30.0, 0.7e-6);
  std::array<double, 12> month{};
  for (std::size_t i = 0; i < 12; ++i) {
    int const n = 2000;
    for (int j = 0; j < n; ++j) {
      double const day = (static_cast<double>(i) + (j + 0.5) / n) * 365.0 / 12.0;
      month[i] += g.temperature(0.0, day) / n;
    }
  }
  auto const fit = fit_monthly(month, 0.7e-6);
  EXPECT_NEAR(fit.climate.mean, g.mean, 1e-6);
  EXPECT_NEAR(fit.climate.amplitude, g.amplitude, 1e-5);
  EXPECT_NEAR(fit.climate.day_of_minimum, g.day_of_minimum, 1e-4);
  EXPECT_LT(fit.worst_month, 1e-5);
  // What one harmonic cannot follow is told.
  month[6] += 3.0;
  EXPECT_GT(fit_monthly(month, 0.7e-6).worst_month, 1.5);
}

TEST(Ground, RefusesWhatNoGroundHas) {
  EXPECT_THROW(make_ground_climate(10.0, 10.0, 35.0, 6e-7), InputError);  // degC for K
  EXPECT_THROW(make_ground_climate(283.0, -1.0, 35.0, 6e-7), InputError);
  EXPECT_THROW(make_ground_climate(283.0, 10.0, 400.0, 6e-7), InputError);
  EXPECT_THROW(make_ground_climate(283.0, 10.0, 35.0, 0.05184), InputError);  // m2/day for m2/s
  EXPECT_THROW(make_ground_climate(std::nan(""), 10.0, 35.0, 6e-7), InputError);
}

/// Rise of the inner face's cell under a constant flux for `duration`, ground ending at `distance`.
double rise(Geometry geometry, double inner, double distance, double duration) {
  Material const soil{"soil", 1.5, 1800.0, 1200.0};
  // The same cells near the pipe whatever the distance.
  auto const n = static_cast<std::size_t>(std::lround(distance / 0.002));
  auto wall = test::inert_wall(
      test::one_layer(geometry, inner, distance, soil, n, Flux{200.0}, FixedTemperature{280.0}),
      1e-5);
  return test::solve(wall, test::uniform_state(wall, 280.0), duration)[0] - 280.0;
}

TEST(FarRadius, ErrorEstimateIsSharpForPlaneGroundAndCloseAroundAPipe) {
  double const a = 1.5 / (1800.0 * 1200.0), duration = 6.0 * 3600.0;
  for (double const error : {0.1, 0.01}) {
    double const distance = far_radius(0.08, a, duration, error) - 0.08;
    EXPECT_NEAR(far_radius_error(distance, a, duration), error, 1e-9);
    double const plane = rise(Geometry::slab, 0.0, distance, duration);
    double const plane_far = rise(Geometry::slab, 0.0, 4.0 * distance, duration);
    EXPECT_NEAR((plane_far - plane) / plane_far, error, 0.02 * error);
    for (double const radius : {0.02, 0.08, 0.3}) {
      double const pipe = rise(Geometry::cylinder, radius, distance, duration);
      double const pipe_far = rise(Geometry::cylinder, radius, 4.0 * distance, duration);
      EXPECT_GT((pipe_far - pipe) / pipe_far, 0.5 * error);
      EXPECT_LT((pipe_far - pipe) / pipe_far, 1.15 * error);
    }
  }
  EXPECT_THROW((void)far_radius(0.08, a, duration, 0.0), InputError);
  EXPECT_THROW((void)far_radius(0.08, a, -1.0, 0.1), InputError);
}

}  // namespace
}  // namespace cure::heat
