#include "cure/process/release_needs.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <string>

#include "cure/io/case_file.hpp"

namespace cure::process {
namespace {

// Formulas against what is printed elsewhere

TEST(LinerLoads, AFreeTubeIsThatOfRoark) {
  // Radius 6.75 in, wall 0.375 in, E 29e6 psi, nu 0.29 buckles at 1.357e3 psi: a printed worksheet
  // of table 35, case 19a of W.C. Young, Roark's Formulas for Stress and Strain. It is E t^3 / (4
  // (1
  // - nu^2) r^3): our restrained ring without its enhancement, ovality, and our nu.
  double const ratio = 2.0 * 6.75 / 0.375;
  // D/t - 1 in ASTM F1216 stands for the mean diameter over t where D is the outer one.
  double const ours =
      enhanced_ring(ratio + 1.0, 1.0, 0.0) * 29e6 * (1.0 - 0.09) / (1.0 - 0.29 * 0.29);
  EXPECT_NEAR(ours, 1357.0, 0.5);
}

TEST(LinerLoads, TheEnhancedRingIsThatOfAWorkedExample) {
  // ASTM F1216 X1.1 as worked in a design manual of pipe lining: host 48 in, 12 ft of water (5.20
  // psi), long-term modulus 125,000 psi, K 7, ovality 2 %, factor 2: 0.878 in of wall.
  double const bears = enhanced_ring(48.0 / 0.878, 7.0, 0.02) * 125e3;
  EXPECT_NEAR(bears / 2.0, 5.20, 0.02);
}

TEST(LinerLoads, OvalityFactorsAreThoseOfATable) {
  // The same manual, table 2.9.
  double const q[] = {0, 1, 2, 4, 5, 6, 8, 10},
               C[] = {1.0, 0.91, 0.84, 0.70, 0.64, 0.59, 0.49, 0.41};
  for (int i = 0; i < 8; ++i) EXPECT_NEAR(ovality_factor(0.01 * q[i]), C[i], 0.006) << q[i];
}

TEST(LinerLoads, TheRestrainedRingExceedsTheFreeOneByHalfTheRatioToThePower) {
  // (t/D)^2.2 over 2 (t/D)^3 is 0.5 (D/t)^0.8 (algebra).
  for (double const ratio : {20.0, 40.0, 100.0}) {
    double const free = 2.0 / (1.0 - 0.09) / std::pow(ratio, 3);
    EXPECT_NEAR(restrained_ring(ratio) / free, 0.5 * std::pow(ratio, 0.8), 1e-9);
  }
}

TEST(CreepMargin, IsADecadeInSixKelvin) {
  EXPECT_EQ(creep_margin(50.0), 0.0);
  EXPECT_NEAR(creep_margin(1000.0), 5.917, 1e-3);
  // The relaxation times that half the slope of the WLF equation gives, computed by hand.
  EXPECT_NEAR(creep_margin(1.4 * 3600.0), 10.0, 0.2);
  EXPECT_NEAR(creep_margin(9.5 * 3600.0), 15.0, 0.2);
}

TEST(Laminate, AcrossFibresIsThatOfHalpinAndTsai) {
  // E-glass 72.5 GPa, 16.7 % by volume, xi = 2: computed by hand.
  struct Row {
    double matrix, laminate;
  };
  for (auto const& [matrix, laminate] : {Row{3.4, 5.14}, Row{1.0, 1.57}, Row{0.1, 0.160}}) {
    EXPECT_NEAR(detail::across_fibres(1e9 * matrix, 72.5e9, 0.167), 1e9 * laminate, 5e6);
    EXPECT_NEAR(detail::matrix_for(1e9 * laminate, 72.5e9, 0.167), 1e9 * matrix, 5e6);
  }
}

// R. F. Gibson, Principles of Composite Material Mechanics (1994), table 1.1 (from memory): E-glass
// 72.4 GPa.
TEST(Laminate, FibresAreAsStiffAsEGlass) { EXPECT_NEAR(fibre_modulus, 72.4e9, 0.02 * 72.4e9); }

TEST(Laminate, TheMatrixIsFoundAgainHoweverSoftOrStiff) {
  for (double const V : {0.0, 0.25, 0.7}) {
    EXPECT_EQ(detail::matrix_for(0.0, 72.5e9, V), 0.0);
    for (double m = 1e-3; m < 1e12; m *= 7.0) {
      EXPECT_NEAR(detail::matrix_for(detail::across_fibres(m, 72.5e9, V), 72.5e9, V) / m, 1.0, 1e-9)
          << m << " Pa, " << V;
    }
    // More than any matrix gives: no resin does.
    EXPECT_GT(detail::matrix_for(1e16, 72.5e9, V), 1e13);
  }
}

TEST(Modulus, HalfOfTheGlassIsLeftAtTheCreepMargin) {
  EXPECT_NEAR(detail::margin_for(1e9, 2e9, 5.0, 11.0), 11.0, 1e-9);
  EXPECT_LT(detail::margin_for(1e7, 2e9, 5.0, 11.0), 0.0);
  EXPECT_TRUE(std::isinf(detail::margin_for(2e9, 2e9, 5.0, 11.0)));
}

// Cases

Case drain(std::string const& release, double thickness_mm = 4.0, double bore_mm = 150.0) {
  std::string const text = R"({"format": "libcure/case/1", "resin": "epoxy-amine-fast",
    "pipe": {"inner_diameter_mm": )" +
                           std::to_string(bore_mm) +
                           R"(, "wall_mm": 16, "material": "vitrified-clay"},
    "liner": {"thickness_mm": )" +
                           std::to_string(thickness_mm) + R"(, "length_mm": 600},
    "ground": {"material": "moist-sand", "temperature_C": 10}, "initial_temperature_C": {"air": 15},
    "stages": [{"kind": "mixed_mass", "duration_min": 4}, {"kind": "wet_out", "duration_min": 8},
               {"kind": "held", "duration_min": 600, "fill_temperature_C": 20}],
    "release": )" + release +
                           "}";
  auto const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  return io::parse_case(text, {{models}}, ".", "test");
}

TEST(ReleaseNeeds, ADryDrainWaitsForGlassNotForLoads) {
  auto const needs = release_needs(drain("{}"));
  EXPECT_EQ(needs.hardest().what, "glassy");
  EXPECT_NEAR(needs.Tg_margin, creep_margin(7200.0), 1e-12);
  EXPECT_NEAR(needs.alpha_min, 0.55, 1e-12);
}

TEST(ReleaseNeeds, GrowWithTheLoadAndFallWithTheThickness) {
  double last = -1e3;
  for (char const* head : {"0", "1", "5", "10"}) {
    auto const needs =
        release_needs(drain(R"({"bears": {"water_head_m": )" + std::string(head) + "}}"));
    EXPECT_GE(needs.Tg_margin, last) << head;
    last = needs.Tg_margin;
  }
  auto const thin = release_needs(drain(R"({"bears": {"water_head_m": 5}})", 3.0));
  auto const thick = release_needs(drain(R"({"bears": {"water_head_m": 5}})", 6.0));
  EXPECT_GT(thin.needs[2].modulus, thick.needs[2].modulus);
  EXPECT_EQ(thin.needs[2].what, "groundwater");
}

TEST(ReleaseNeeds, ALoadBeyondTheGlassIsNeverBorne) {
  auto const needs = release_needs(drain(R"({"bears": {"water_head_m": 50}})", 3.0, 600.0));
  EXPECT_TRUE(std::isinf(needs.Tg_margin));
  EXPECT_EQ(needs.hardest().what, "groundwater");
}

TEST(ReleaseNeeds, ByConversionAreTheMakersNumbers) {
  auto const needs = release_needs(drain(R"({"alpha_min": 0.7, "Tg_margin_K": 3})"));
  EXPECT_EQ(needs.alpha_min, 0.7);
  EXPECT_EQ(needs.Tg_margin, 3.0);
  // The older name of the key.
  EXPECT_EQ(release_needs(drain(R"({"alpha_min": 0.7, "Tg_above_wall_K": 3})")).Tg_margin, 3.0);
}

}  // namespace
}  // namespace cure::process
