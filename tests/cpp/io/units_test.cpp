#include "cure/units.hpp"

#include <gtest/gtest.h>

#include <map>
#include <string>

namespace cure::units {
namespace {

// A. Thompson, B. N. Taylor, Guide for the Use of the International System of Units, NIST Special
// Publication 811 (2008), appendix B.8: thermochemical calorie 4.184 J, centipoise 1e-3 Pa s,
// litre 1e-3 m3, day 86400 s, degree Celsius T/K = t + 273.15.
TEST(Units, AreThoseOfTheGuideToTheSi) {
  std::map<std::string, double> const in_si{{"1", 1},
                                            {"%", 0.01},
                                            {"1/s", 1},
                                            {"1/min", 1.0 / 60},
                                            {"1/h", 1.0 / 3600},
                                            {"J/mol", 1},
                                            {"kJ/mol", 1000},
                                            {"cal/mol", 4.184},
                                            {"kcal/mol", 4184},
                                            {"K", 1},
                                            {"degC", 1},
                                            {"1/K", 1},
                                            {"J/kg", 1},
                                            {"kJ/kg", 1000},
                                            {"J/g", 1000},
                                            {"cal/g", 4184},
                                            {"kg/m3", 1},
                                            {"g/cm3", 1000},
                                            {"J/(kg K)", 1},
                                            {"kJ/(kg K)", 1000},
                                            {"J/(g K)", 1000},
                                            {"cal/(g K)", 4184},
                                            {"W/(m K)", 1},
                                            {"mW/(m K)", 1e-3},
                                            {"Pa s", 1},
                                            {"mPa s", 1e-3},
                                            {"cP", 1e-3},
                                            {"Pa", 1},
                                            {"MPa", 1e6},
                                            {"GPa", 1e9},
                                            {"s", 1},
                                            {"min", 60},
                                            {"h", 3600},
                                            {"m", 1},
                                            {"mm", 1e-3},
                                            {"mol/kg", 1},

                                            {"m2/s", 1},
                                            {"mm2/s", 1e-6},
                                            {"m2/day", 1.0 / 86400},
                                            {"m3/(mol s)", 1},
                                            {"L/(mol s)", 1e-3},
                                            {"W/(m2 K)", 1}};
  for (auto const& unit : table) {
    auto const known = in_si.find(std::string(unit.name));
    ASSERT_NE(known, in_si.end()) << unit.name;
    double const zero = unit.name == "degC" ? 273.15 : 0.0;
    EXPECT_DOUBLE_EQ(to_si(0.0, unit), zero) << unit.name;
    EXPECT_DOUBLE_EQ(to_si(7.0, unit), 7.0 * known->second + zero) << unit.name;
  }
}

}  // namespace
}  // namespace cure::units
