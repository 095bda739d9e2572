#include "cure/heat/varying.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "cure/heat/material.hpp"

namespace cure::heat {
namespace {

// Saturated sand, water freezing over half a kelvin.
Freezing const ice{400.0, 273.15, 0.5, 4.3, 1060.0};
double const k = 2.5, rho = 2000.0, cp = 1476.0;

TEST(Varying, TemperatureIsTheInverseOfStoredHeat) {
  auto const wet = freezing_properties(ice, k, rho, cp);
  VaryingProperties const table({{280.0, 300.0, 350.0}, {0.9, 1.3, 1.1}}, 1.0, 290.0);
  VaryingProperties const flat(1.0, {{280.0, 300.0}, {1.0, 2.0}}, 290.0);
  for (auto const* p : {&wet, &table, &flat}) {
    double before = -1e9;
    for (double T = 250.0; T < 360.0; T += 0.0371) {
      double const u = p->u_of(T);
      EXPECT_GT(u, before);
      before = u;
      EXPECT_NEAR(p->temperature(u), T, 1e-9);
    }
  }
  EXPECT_DOUBLE_EQ(table.u_of(290.0), 290.0);
  EXPECT_DOUBLE_EQ(wet.u_of(290.0), 290.0);
}

TEST(Varying, HeatIsTheIntegralOfTheCapacity) {
  auto const wet = freezing_properties(ice, k, rho, cp);
  for (double T : {265.0, 272.7, 272.85, 272.95, 273.1, 274.0}) {
    double const e = 1e-5;
    EXPECT_NEAR((wet.u_of(T + e) - wet.u_of(T - e)) / (2.0 * e), wet.capacity_factor(T),
                1e-5 * wet.capacity_factor(T));
  }
}

TEST(Freezing, GivesOffTheHeatOfFusionOfItsWaterAndNoMore) {
  for (double const range : {0.02, 0.5, 4.0}) {
    auto f = ice;
    f.range = range;
    auto const wet = freezing_properties(f, k, rho, cp);
    double const stored = rho * cp * (wet.u_of(f.start) - wet.u_of(f.start - range));
    double const sensible = rho * 0.5 * (cp + ice.specific_heat) * range;
    EXPECT_NEAR(stored - sensible, heat_of_fusion * ice.water, 1e-6 * heat_of_fusion * ice.water);
  }
}

TEST(Freezing, IsTheThawedGroundAboveAndTheFrozenBelow) {
  auto const wet = freezing_properties(ice, k, rho, cp);
  EXPECT_EQ(wet.capacity_factor(280.0), 1.0);
  EXPECT_EQ(wet.conductivity_factor(280.0), 1.0);
  EXPECT_DOUBLE_EQ(wet.capacity_factor(260.0), ice.specific_heat / cp);
  EXPECT_DOUBLE_EQ(wet.conductivity_factor(260.0), ice.conductivity / k);
}

TEST(Freezing, NeedsWaterAndARange) {
  Material dry{"dry", 0.24, 1600.0, 800.0};
  EXPECT_THROW((void)with_freezing(dry), InputError);
  auto f = ice;
  f.range = 0.0;
  EXPECT_THROW((void)freezing_properties(f, k, rho, cp), InputError);
  EXPECT_THROW(VaryingProperties({{280.0, 300.0}, {1.0, 0.0}}, 1.0, 290.0), InputError);
}

}  // namespace
}  // namespace cure::heat
