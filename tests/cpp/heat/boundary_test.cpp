#include "cure/heat/boundary.hpp"
#include "cure/heat/temperature_cycle.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "support.hpp"

namespace cure::heat {
namespace {

Convection radiating() {
  return {Schedule({0.0, 3600.0}, {5.0, 9.0}), Schedule({0.0, 3600.0}, {290.0, 320.0}),
          Schedule({0.0, 3600.0}, {100.0, 400.0}), 0.9, Schedule({0.0, 3600.0}, {270.0, 340.0})};
}

/// Heat into the cell [W], from the surface's balance solved by bisection.
double heat_by_bisection(Convection const& c, double t, double area, double half, double T) {
  auto const into_surface = [&](double s) {
    return area *
           (c.coefficient(t, s) * (c.temperature.at(t) - s) + c.absorbed.at(t) +
            c.emissivity * stefan_boltzmann * (std::pow(c.surroundings.at(t), 4) - std::pow(s, 4)));
  };
  double low = 1.0, high = 2000.0;
  for (int i = 0; i < 200; ++i) {
    double const s = 0.5 * (low + high);
    (into_surface(s) - (s - T) / half > 0.0 ? low : high) = s;
  }
  return (0.5 * (low + high) - T) / half;
}

// Surface balance h (T_m - T_s) + q + eps sigma (T_r^4 - T_s^4) = conduction to the node, solved
// here without linearising.
TEST(Radiation, LoadIsTheExactHeatWithItsExactSlopes) {
  double const area = 0.3, half = 0.04, t = 1200.0;
  for (double const T : {250.0, 300.0, 420.0}) {
    auto const c = radiating();
    auto const load = surface_load(c, t, area, half, T);
    auto const heat = [&](double time, double temperature) {
      return heat_by_bisection(c, time, area, half, temperature);
    };
    EXPECT_NEAR(load.Q - load.G * T, heat(t, T), 1e-8);
    EXPECT_NEAR(-load.G, (heat(t, T + 0.1) - heat(t, T - 0.1)) / 0.2, 1e-5 * load.G);
    double const in_time = (heat(t + 10.0, T) - heat(t - 10.0, T)) / 20.0;
    EXPECT_NEAR(load.dQ - load.dG * T, in_time, 1e-4 * std::abs(in_time));
  }
}

AirFilm open_air() {
  AirFilm film;
  film.diameter = 0.15;
  return film;
}

// The same for coefficients by correlation, in still air, in rising wind and in a bladder.
TEST(Film, LoadIsTheExactHeatWithItsSlopes) {
  double const area = 0.3, half = 0.04, t = 1200.0;
  auto windy = open_air(), closed = open_air();
  windy.wind = Schedule({0.0, 3600.0}, {1.0, 6.0});
  closed.law = AirFilm::Law::closed_air;
  closed.pressure = 2e5;
  for (auto const& film : {open_air(), windy, closed}) {
    for (double const emissivity : {0.0, 0.9}) {
      for (double const T : {260.0, 305.0, 350.0}) {
        auto c = radiating();
        c.film = film;
        c.emissivity = emissivity;
        auto const load = surface_load(c, t, area, half, T);
        auto const heat = [&](double time, double temperature) {
          return heat_by_bisection(c, time, area, half, temperature);
        };
        EXPECT_NEAR(load.Q - load.G * T, heat(t, T), 1e-8);
        EXPECT_NEAR(-load.G, (heat(t, T + 0.1) - heat(t, T - 0.1)) / 0.2, 1e-3 * load.G);
        double const in_time = (heat(t + 1.0, T) - heat(t - 1.0, T)) / 2.0;
        EXPECT_NEAR(load.dQ - load.dG * T, in_time, 1e-3 * std::abs(in_time));
      }
    }
  }
}

TEST(Film, CoefficientIsThatOfTheCorrelation) {
  auto film = open_air();
  EXPECT_EQ(film.h(320.0, 290.0, 0.0), h_open_air(320.0, 290.0, 0.15));
  EXPECT_EQ(film.h(320.0, 290.0, 3.0), h_open_air(320.0, 290.0, 0.15, 3.0));
  film.law = AirFilm::Law::closed_air;
  film.pressure = 2e5;
  EXPECT_EQ(film.h(320.0, 290.0, 0.0), h_closed_bladder(320.0, 290.0, 0.15, 2e5));
  film.factor = 1.5;
  EXPECT_DOUBLE_EQ(film.h(320.0, 290.0, 0.0), 1.5 * h_closed_bladder(320.0, 290.0, 0.15, 2e5));
}

TEST(Film, SaysWhereItsSourceEnds) {
  AirFilm film;
  film.law = AirFilm::Law::closed_air;
  film.diameter = 0.1;
  EXPECT_TRUE(film.in_range(300.0, 290.0, 0.0));
  film.diameter = 1.5;
  film.pressure = 3e5;
  EXPECT_FALSE(film.in_range(330.0, 290.0, 0.0));
  EXPECT_GT(film.h(330.0, 290.0, 0.0), 0.0);
}

TEST(Film, SurfaceAsWarmAsTheAirTakesNothing) {
  Convection c{0.0, 300.0};
  c.film = open_air();
  auto const load = surface_load(c, 0.0, 0.3, 0.04, 300.0);
  EXPECT_NEAR(load.Q - load.G * 300.0, 0.0, 1e-9);
  EXPECT_GT(load.G, 0.0);
}

TEST(Film, WindBendsAtItsCorners) {
  Convection c{Schedule({0.0, 5.0}, {1.0, 2.0}), 300.0};
  c.film = open_air();
  c.film->wind = Schedule({10.0, 20.0}, {0.0, 5.0});
  EXPECT_EQ(corners(c), (std::vector<double>{10.0, 20.0}));
}

TEST(Radiation, NoEmissivityIsPlainConvection) {
  auto c = radiating();
  c.emissivity = 0.0;
  auto const with = surface_load(c, 600.0, 0.3, 0.04, 300.0);
  auto const without = surface_load(c, 600.0, 0.3, 0.04);
  EXPECT_EQ(with.G, without.G);
  EXPECT_EQ(with.Q, without.Q);
  EXPECT_EQ(with.dQ, without.dQ);
  // A radiating surface is refused where its temperature is not known, never taken as if dark.
  EXPECT_THROW((void)surface_load(radiating(), 600.0, 0.3, 0.04), InputError);
}

TEST(Radiation, CornersOfTheSurroundingsCountOnlyWhereSeen) {
  Convection c{5.0, 290.0, 0.0, 0.9, Schedule({0.0, 77.0}, {280.0, 290.0})};
  EXPECT_EQ(corners(c).size(), 2U);
  c.emissivity = 0.0;
  EXPECT_TRUE(corners(c).empty());
}

TEST(Cycle, RampsHoldsAndCoolsAtTheRatesGiven) {
  std::array const legs{CycleLeg{338.15, 1.5 / 60.0, 7200.0}, CycleLeg{298.15, 0.5 / 60.0, 0.0}};
  auto const fill = temperature_cycle(293.15, legs, 600.0);
  double const up = 45.0 / (1.5 / 60.0), down = 40.0 / (0.5 / 60.0);
  EXPECT_DOUBLE_EQ(fill.at(0.0), 293.15);
  EXPECT_NEAR(fill.slope(700.0), 1.5 / 60.0, 1e-12);
  EXPECT_NEAR(fill.at(600.0 + up), 338.15, 1e-9);
  EXPECT_NEAR(fill.at(600.0 + up + 7200.0), 338.15, 1e-9);
  EXPECT_NEAR(fill.slope(600.0 + up + 7300.0), -0.5 / 60.0, 1e-12);
  EXPECT_NEAR(fill.at(600.0 + up + 7200.0 + down), 298.15, 1e-9);
  EXPECT_EQ(fill.times().size(), 4U);
}

TEST(Cycle, RefusesImpossibleLegs) {
  auto const make = [](CycleLeg leg) {
    std::array const legs{leg};
    return temperature_cycle(290.0, legs);
  };
  EXPECT_THROW((void)make({320.0, 0.0, 10.0}), InputError);
  EXPECT_THROW((void)make({320.0, 0.1, -1.0}), InputError);
  EXPECT_THROW((void)make({-3.0, 0.1, 1.0}), InputError);
  EXPECT_TRUE(make({290.0, 0.1, 0.0}).constant());
}

}  // namespace
}  // namespace cure::heat
