#include "cure/heat/convection.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace cure::heat {
namespace {

// Air at 1 atm, F.P. Incropera et al., "Fundamentals of Heat and Mass Transfer", Table A.4 (from
// memory): 250, 300 and 350 K.
TEST(Air, PropertiesOfAHandbookTable) {
  struct Row {
    double T, density, viscosity, conductivity, Pr;
  };
  for (auto const& row : {Row{250, 1.3947, 159.6e-7, 22.3e-3, 0.720},
                          {300, 1.1614, 184.6e-7, 26.3e-3, 0.707},
                          {350, 0.9950, 208.2e-7, 30.0e-3, 0.700}}) {
    auto const a = air(row.T);
    EXPECT_NEAR(a.density, row.density, 0.015 * row.density);
    EXPECT_NEAR(a.viscosity, row.viscosity, 0.01 * row.viscosity);
    EXPECT_NEAR(a.conductivity, row.conductivity, 0.01 * row.conductivity);
    EXPECT_NEAR(a.prandtl(), row.Pr, 0.02 * row.Pr);
  }
  EXPECT_NEAR(air(300.0, 2e5).density, 2e5 / 101325.0 * air(300.0).density, 1e-9);
}

// Limits that the sources state: conduction to infinity 0.36 (Churchill & Chu 1975, eq. for Ra to
// 0), 0.3 (Churchill & Bernstein 1977), conduction inside a slowly warming cylinder 8.
TEST(Correlations, HaveTheirLimits) {
  EXPECT_NEAR(nusselt_free_cylinder(0.0, 0.7), 0.36, 1e-12);
  EXPECT_NEAR(nusselt_crossflow(0.2 / 0.7 * 1.0001, 0.7),
              0.3 + 0.62 * std::sqrt(0.2 / 0.7) * std::cbrt(0.7) /
                        std::pow(1.0 + std::pow(0.4 / 0.7, 2.0 / 3.0), 0.25),
              1e-3);
  EXPECT_DOUBLE_EQ(nusselt_inside_cylinder(0.0), 8.0);
  EXPECT_NEAR(nusselt_inside_cylinder(1e8), 55.0, 1e-9);
  // Large Ra: Nu goes as Ra^(1/3).
  double const up = nusselt_free_cylinder(1e12, 0.7) / nusselt_free_cylinder(1e9, 0.7);
  EXPECT_NEAR(std::log10(up) / 3.0, 1.0 / 3.0, 0.02);
}

TEST(Correlations, RefuseWhatIsOutsideTheirRange) {
  EXPECT_THROW((void)nusselt_free_cylinder(2e12, 0.7), InputError);
  EXPECT_THROW((void)nusselt_free_cylinder(-1.0, 0.7), InputError);
  EXPECT_THROW((void)nusselt_crossflow(2e7, 0.7), InputError);
  EXPECT_THROW((void)nusselt_crossflow(0.1, 0.7), InputError);
  EXPECT_THROW((void)nusselt_inside_cylinder(1e10), InputError);
  EXPECT_THROW((void)air(20.0), InputError);  // degC for K
  EXPECT_THROW((void)air(std::nan("")), InputError);
  EXPECT_THROW((void)h_radiation(1.2, 300.0, 300.0), InputError);
  try {
    (void)air(20.0);
  } catch (InputError const& e) {
    EXPECT_EQ(e.field(), "air temperature [K]");
    EXPECT_EQ(e.allowed(), "200 to 500");
  }
}

TEST(Coefficients, RiseWithWindPressureAndDifference) {
  double const still = h_open_air(300.0, 290.0, 0.1);
  EXPECT_GT(still, 2.0);
  EXPECT_LT(still, 8.0);  // still air, common practice: 2 to 8 W/(m2 K), no source
  EXPECT_GT(h_open_air(300.0, 290.0, 0.1, 5.0), 3.0 * still);
  EXPECT_DOUBLE_EQ(h_open_air(300.0, 290.0, 0.1, 1e-6), still);
  EXPECT_GT(h_closed_bladder(300.0, 320.0, 0.09, 201325.0), h_closed_bladder(300.0, 320.0, 0.09));
  // Without a difference air still conducts.
  EXPECT_NEAR(h_closed_bladder(300.0, 300.0, 0.1), 8.0 * air(300.0).conductivity / 0.1, 1e-12);
}

TEST(Radiation, CoefficientTimesDifferenceIsTheExchange) {
  double const e = 0.9, a = 330.0, b = 285.0;
  EXPECT_NEAR(h_radiation(e, a, b) * (a - b),
              e * stefan_boltzmann * (std::pow(a, 4) - std::pow(b, 4)), 1e-9);
}

}  // namespace
}  // namespace cure::heat
