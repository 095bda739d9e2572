#include "cure/process/section.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <string>
#include <vector>

#include "cure/io/case_file.hpp"
#include "cure/numerics/rosenbrock.hpp"
#include "cure/process/predict.hpp"
#include "cure/process/section_stage.hpp"
#include "cure/process/section_wall.hpp"

namespace cure::process {
namespace {

using testing::HasSubstr;
constexpr double pi = std::numbers::pi;

/// Invented: a clay drain on a mild day; `section` is the JSON of that key, or empty.
Case drain(std::string const& section, std::string const& resin = "epoxy-amine-fast",
           std::string const& more = "") {
  std::string const text = R"({"format": "libcure/case/1", "resin": ")" + resin + R"(",
    "pipe": {"inner_diameter_mm": 150, "wall_mm": 16, "material": "vitrified-clay"},
    "liner": {"thickness_mm": 4, "length_mm": 600}, "bladder": {"thickness_mm": 4},
    "ground": {"material": "moist-sand", "temperature_C": 10},
    "initial_temperature_C": {"air": 14},
    "stages": [{"kind": "mixed_mass", "duration_min": 4}, {"kind": "wet_out", "duration_min": 8},
               {"kind": "held", "duration_min": 600, "fill_temperature_C": 20},
               {"kind": "after_release", "duration_min": 600}],
    "release": {"alpha_min": 0.7})" +
                           more + (section.empty() ? "" : ", \"section\": " + section) + "}";
  auto const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  return io::parse_case(text, {{models}}, ".", "test");
}
char const* const coarse_cells =
    R"(, "numerics": {"cells": {"bladder": 4, "liner": 10, "pipe": 6, "ground": 16}})";
Case small(std::string const& section) { return drain(section, "epoxy-amine-fast", coarse_cells); }

// Profiles, edges, clock

TEST(Profile, IsLinearAndClosesOnItself) {
  Profile const p({0.0, 0.5 * pi, pi}, {4.0, 2.0, 6.0}, true);
  EXPECT_DOUBLE_EQ(p(0.25 * pi), 3.0);
  EXPECT_DOUBLE_EQ(p(1.5 * pi), 5.0);
  EXPECT_DOUBLE_EQ(p(-0.5 * pi), 5.0);
  EXPECT_DOUBLE_EQ(p(2.25 * pi), 3.0);
  EXPECT_FALSE(p.mirrored());
  EXPECT_TRUE(Profile({0.0, 0.5 * pi, pi, 1.5 * pi}, {4.0, 2.0, 6.0, 2.0}, true).mirrored());
  EXPECT_TRUE(Profile({1.0}, {3.0}, true).mirrored());
  Profile const open({0.1, 0.2}, {1.0, 3.0}, false);
  EXPECT_DOUBLE_EQ(open(0.0), 1.0);
  EXPECT_DOUBLE_EQ(open(0.15), 2.0);
  EXPECT_DOUBLE_EQ(open(9.0), 3.0);
}

TEST(ClockName, CountsFromTheInvertClockwise) {
  EXPECT_EQ(clock_name(0.0, false), "6 o'clock");
  EXPECT_EQ(clock_name(0.5 * pi, false), "9 o'clock");
  EXPECT_EQ(clock_name(pi, true), "12 o'clock");
  EXPECT_EQ(clock_name(1.5 * pi, false), "3 o'clock");
  EXPECT_EQ(clock_name(pi / 6.0, true), "5 and 7 o'clock");
  EXPECT_EQ(clock_name(2.0 * pi - 1e-3, false), "6 o'clock");
}

TEST(ColumnEdges, FallOnEveryPlaceAtWhichSomethingEnds) {
  PipeSection s;
  s.water = InvertWater{0.075, 280.0, 100.0};  // half full: wet to the springlines
  auto edge = column_edges(s, 0.075);
  EXPECT_EQ(edge.size(), 25U);  // mirrored: half of 48
  EXPECT_DOUBLE_EQ(edge[12], 0.5 * pi);
  s.ground_offset = Profile({0.5 * pi}, {1.0}, true);
  EXPECT_EQ(column_edges(s, 0.075).size(), 25U);
  s.ground_offset = Profile({0.5 * pi, pi}, {1.0, 2.0}, true);
  EXPECT_EQ(column_edges(s, 0.075).size(), 49U);
  PipeSection a;
  a.kind = heat::Section::along;
  a.length = 0.3;
  a.bare_pipe = 0.1;
  a.bare_gap = Stretch{0.101, 0.113};
  a.open_to_soil = Stretch{0.0, 0.101};
  edge = column_edges(a, 0.075);
  for (double const x : {-0.1, 0.0, 0.101, 0.113, 0.3}) {
    EXPECT_NE(std::find(edge.begin(), edge.end(), x), edge.end()) << x;
  }
  EXPECT_TRUE(std::is_sorted(edge.begin(), edge.end()));
}

// Parity: the one-dimensional job is the reference.

/// The same job with its media in tables: a wall left alone would take another method than a
/// section does.
Case in_tables(Case c) {
  auto const table = [](Schedule& s) { s = Schedule({0.0, 1e7}, {s.at(0.0), s.at(0.0)}); };
  for (auto& stage : c.stages) {
    if (auto* held = std::get_if<Held>(&stage)) table(held->fill_temperature);
    if (auto* after = std::get_if<AfterRelease>(&stage)) table(after->bore_temperature);
  }
  return c;
}

struct Parity {
  char const* section;
  char const* resin;
};
class NothingDiffers : public testing::TestWithParam<Parity> {};

TEST_P(NothingDiffers, IsTheOneDimensionalJob) {
  auto const one = in_tables(drain("", GetParam().resin));
  auto const two = in_tables(drain(GetParam().section, GetParam().resin));
  auto const a = predict(one), b = predict(two);
  ASSERT_EQ(a.history.size(), b.history.size());
  double worst = 0.0;
  for (std::size_t s = 0; s < a.history.size(); ++s) {
    auto const &p = a.history[s], &q = b.history[s];
    auto const m = q.columns();
    EXPECT_EQ(m > 1, s >= 2);
    auto const x = p.path.state(p.path.times().size() - 1);
    auto const y = q.path.state(q.path.times().size() - 1);
    for (std::size_t c = 0; c < q.cells; ++c) {
      worst = std::max(worst, std::abs(y[c] - x[c / m]) / 300.0);
    }
    for (std::size_t k = 0; k < q.reacting * q.states; ++k) {
      worst = std::max(worst, std::abs(y[q.cells + k] - x[p.cells + k / m]));
    }
    EXPECT_LT(q.energy_residual, 1e-9);
  }
  EXPECT_LT(worst, 1e-10);
  ASSERT_TRUE(a.verdict.release_time);
  // Times are found to a microsecond.
  EXPECT_NEAR(*b.verdict.working_time, *a.verdict.working_time, 2e-6);
  EXPECT_NEAR(*b.verdict.gel_time_last, *a.verdict.gel_time_last, 2e-6);
  EXPECT_NEAR(*b.verdict.release_time, *a.verdict.release_time, 2e-6);
  EXPECT_NEAR(b.verdict.peak.temperature, a.verdict.peak.temperature, 1e-8);
  EXPECT_EQ(b.verdict.limiting.at("release").position, a.verdict.limiting.at("release").position);
}

INSTANTIATE_TEST_SUITE_P(
    Section, NothingDiffers,
    testing::Values(Parity{R"({"kind": "around", "columns": 8})", "epoxy-amine-fast"},
                    Parity{R"({"kind": "along", "columns": 8})", "epoxy-amine-fast"},
                    Parity{R"({"kind": "around", "columns": 8})", "vinyl-ester-cold"}),
    [](auto const& instance) {
      std::string name = std::string(instance.param.section).substr(10, 6) + instance.param.resin;
      std::erase_if(name, [](char c) { return std::isalnum(static_cast<unsigned char>(c)) == 0; });
      return name;
    });

// Water

// Steady heat from the fill to a film all round: resistances in series (H.S. Carslaw, J.C. Jaeger,
// "Conduction of Heat in Solids", 2nd ed., 1959, sec. 7.2).
TEST(Film, SteadyHeatIsThatOfResistancesInSeries) {
  std::vector<heat::Layer> const layers{{"a", 0.004, {"a", 0.3, 1500.0, 1200.0}, 6, 1.0, 0.0},
                                        {"b", 0.01, {"b", 1.2, 2000.0, 900.0}, 6, 1.0, 0.0}};
  std::vector<heat::Column> const columns(4, {0.05, layers});
  auto mesh =
      heat::make_section_mesh(heat::Section::around, heat::equal_edges(0.0, 2.0 * pi, 4), columns);
  std::vector<heat::Boundary> const inner(4, heat::Convection{12.0, 310.0}),
      outer(4, heat::Convection{25.0, 290.0});
  SectionWall wall({std::move(mesh), inner, outer, {4, heat::Film{0, 80.0, 280.0}}}, {}, "none",
                   0.0, {1e-6, 1e-6});
  std::vector<double> y0(wall.size(), 300.0), y;
  y0[wall.cells()] = y0[wall.cells() + 1] = 0.0;
  numerics::DenseStepper<SectionWall> stepper;
  stepper.initialize(y0, 0.0, 0.0);
  while (stepper.current_time() < 50000.0) stepper.do_step(wall, 50000.0);
  y = stepper.current_state();
  EXPECT_LT(wall.energy_residual(y0, y), 1e-11);
  auto const flow = [&] {
    auto f = wall.conduction().make_flow();
    wall.conduction().set_heats(0.0, y, std::vector<double>(y.size(), 1.0), f);
    return f;
  }();
  auto const R = [](double h, double r) { return 1.0 / (h * 2.0 * pi * r); };
  double const inside =
      30.0 / (R(12.0, 0.05) + std::log(0.054 / 0.05) / (2.0 * pi * 0.3) + R(80.0, 0.054));
  double const outside =
      10.0 / (R(25.0, 0.064) + std::log(0.064 / 0.054) / (2.0 * pi * 1.2) + R(80.0, 0.054));
  EXPECT_NEAR(flow.heat_in, inside, 1e-6 * inside);
  EXPECT_NEAR(flow.heat_out, outside - (inside + outside), 1e-6 * inside);
}

TEST(Film, IsRefusedWhereThereAreNotTwoLayers) {
  std::vector<heat::Column> const columns(2, {0.05, {{"a", 0.004, {"a", 0.3, 1500.0, 1200.0}, 6}}});
  auto const mesh = heat::make_section_mesh(heat::Section::along, {0.0, 0.1, 0.2}, columns);
  std::vector<heat::Boundary> const none(2, heat::Insulated{});
  EXPECT_THROW(heat::SectionConduction(mesh, none, none, {2, heat::Film{0, 80.0, 280.0}}),
               InputError);
  EXPECT_THROW(heat::SectionConduction(mesh, none, none, {heat::Film{}}), InputError);
}

TEST(Section, AFixedGroundIsWarmerWhereTheProfileSaysSo) {
  auto const c = small(R"({"kind": "around", "columns": 8,
                           "ground_offset_K": {"clock": [6, 12], "value": [0, 3]}})");
  std::vector<heat::Layer> const layers{
      {"liner", 0.004, {"resin", 0.3, 1500.0, 1200.0}, 4, 1.0, 0.071},
      {"pipe", 0.016, {"clay", 1.2, 2000.0, 900.0}, 4, 1.0, 0.075}};
  auto const wall =
      section_conduction(c, *c.section, layers, heat::Insulated{}, heat::FixedTemperature{{283.0}});
  // A pipe that is as warm as the ground beside it takes no heat from it, one of a single
  // temperature does.
  auto const from_ground = [&](bool by_column) {
    std::vector<double> T(wall.size(), 283.0);
    for (std::size_t i = 0; i < T.size() && by_column; ++i) {
      T[i] += c.section->offset(wall.mesh().position(i % wall.mesh().columns()));
    }
    auto flow = wall.make_flow();
    wall.set_heats(0.0, T, std::vector<double>(T.size(), 1.0), flow);
    return flow.heat_out;
  };
  EXPECT_NEAR(from_ground(true), 0.0, 1e-9);
  EXPECT_GT(from_ground(false), 1.0);
}

TEST(Water, ColdAtTheInvertDelaysReleaseAndDecidesItThere) {
  auto const dry = predict(small(R"({"kind": "around"})")).verdict;
  double before = 0.0;
  for (char const* depth : {"5", "30", "75"}) {
    auto const wet = predict(small(std::string(R"({"kind": "around", "water": {"depth_mm": )") +
                                   depth + R"(, "temperature_C": 4}})"));
    auto const& v = wet.verdict;
    ASSERT_TRUE(v.release_time);
    EXPECT_GT(*v.release_time, *dry.release_time + 60.0) << depth;
    EXPECT_GT(*v.release_time, before - 1.0) << depth;
    before = *v.release_time;
    auto const& decides = v.limiting.at("release");
    EXPECT_EQ(decides.position, "outer face");
    EXPECT_LT(*decides.angle, heat::wetted_angle(1e-3 * std::stod(depth), 0.075));
    EXPECT_EQ(decides.clock.find("12"), std::string::npos);
    // The crown cures first.
    EXPECT_EQ(v.limiting.at("gel_first").clock, "12 o'clock");
    EXPECT_LT(v.energy_residual, 1e-9);
    EXPECT_EQ(wet.history[2].columns(), wet.history[2].section->columns());
  }
  auto const thin =
      predict(small(R"({"kind": "around", "water": {"depth_mm": 5, "temperature_C": 4}})"));
  EXPECT_EQ(thin.verdict.limiting.at("release").clock, "6 o'clock");
}

TEST(Water, EnergyClosesWithAnEggShapedLinerAndTwoCureStates) {
  auto const p = predict(
      drain(R"({"kind": "around", "columns": 16, "water": {"depth_mm": 20, "temperature_C": 4},
                "liner_thickness_mm": {"clock": [4, 6, 9], "value": [4, 7, 4]}})",
            "vinyl-ester-cold", coarse_cells));
  EXPECT_LT(p.verdict.energy_residual, 1e-9);
  EXPECT_TRUE(p.history[2].section->closed);
}

// Left and right

TEST(Mirror, SwapsLeftAndRight) {
  auto const left = predict(small(
      R"({"kind": "around", "columns": 16, "ground_offset_K": {"clock": [6, 9, 12], "value": [0, 12, 0]},
          "liner_thickness_mm": {"clock": [2, 6, 8, 10], "value": [4, 4, 7, 4]}})"));
  auto const right = predict(small(
      R"({"kind": "around", "columns": 16, "ground_offset_K": {"clock": [3, 6, 12], "value": [12, 0, 0]},
          "liner_thickness_mm": {"clock": [2, 4, 6, 10], "value": [4, 7, 4, 4]}})"));
  auto const &a = left.verdict, &b = right.verdict;
  ASSERT_TRUE(a.release_time);
  EXPECT_NEAR(*a.release_time, *b.release_time, 1e-3);
  EXPECT_NEAR(*a.working_time, *b.working_time, 1e-3);
  EXPECT_NEAR(a.peak.temperature, b.peak.temperature, 1e-6);
  for (char const* name : {"working", "release"}) {
    EXPECT_NEAR(*a.limiting.at(name).angle, 2.0 * pi - *b.limiting.at(name).angle, 1e-9) << name;
  }
  EXPECT_NEAR(*a.peak.angle, 2.0 * pi - *b.peak.angle, 1e-9);
  EXPECT_LT(*a.peak.angle, pi) << "the warm, thick side is on the left, 7 to 11 o'clock";
}

TEST(Mirror, HalfAPipeStandsForTheWholeOne) {
  auto const section = [](char const* nine) {
    return std::string(
               R"({"kind": "around", "columns": 24, "water": {"depth_mm": 20, "temperature_C": 4},
      "ground_offset_K": {"clock": [3, 6, 9, 12], "value": [1, 0, )") +
           nine + ", 3]}}";
  };
  auto const half = predict(small(section("1"))), whole = predict(small(section("1.0001")));
  EXPECT_EQ(half.history[2].columns(), 12U);
  EXPECT_EQ(whole.history[2].columns(), 24U);
  EXPECT_NEAR(*half.verdict.release_time, *whole.verdict.release_time, 1.0);
  EXPECT_NEAR(half.verdict.peak.temperature, whole.verdict.peak.temperature, 0.02);
}

// Along the pipe

TEST(Along, AThickSpotRunsHotterAndIsNamed) {
  auto const even = predict(small(R"({"kind": "along", "length_mm": 200, "columns": 20})")).verdict;
  double before = even.peak.temperature;
  for (char const* mm : {"6", "9"}) {
    auto const p = predict(small(std::string(R"({"kind": "along", "length_mm": 200, "columns": 20,
      "liner_thickness_mm": {"position_mm": [60, 90, 110, 140], "value": [4, )") +
                                 mm + ", " + mm + ", 4]}}"));
    EXPECT_GT(p.verdict.peak.temperature, before + 3.0);
    before = p.verdict.peak.temperature;
    EXPECT_NEAR(*p.verdict.peak.distance, 0.1, 0.016);
    EXPECT_LT(p.verdict.energy_residual, 1e-9);
  }
}

TEST(Along, AHoleInTheColdGroundAndTheLinersEndDecideTheRelease) {
  auto const even = predict(small(R"({"kind": "along", "length_mm": 200, "columns": 20})")).verdict;
  auto const p = predict(small(R"({"kind": "along", "length_mm": 200, "columns": 20,
    "bare_gap_mm": {"from": 90, "to": 100}, "bare_pipe_mm": 40})"));
  auto const& held = p.history[2];
  auto const liner = held.mesh.layers[held.mesh.find("liner")].cells;
  EXPECT_LT(held.reacting, liner * held.columns());
  EXPECT_LT(p.verdict.energy_residual, 1e-9);
  for (std::size_t j = 0; j < held.reacting; ++j) {
    double const z = held.section->position(held.resin_cell(j) % held.columns());
    EXPECT_FALSE(z < 0.0 || (z > 0.09 && z < 0.1)) << z;
    EXPECT_EQ(held.layer(held.resin_cell(j)).name, "liner");
  }
  EXPECT_EQ(p.verdict.limiting.at("release").layer, "liner");
  // Less resin beside them to warm them: the last place to be ready borders on the gap or the end.
  double const z = *p.verdict.limiting.at("release").distance;
  EXPECT_TRUE(z < 0.02 || (z > 0.07 && z < 0.12)) << z;
  EXPECT_GT(*p.verdict.release_time, *even.release_time);
  EXPECT_EQ(p.verdict.layer_peak.count("bladder in gap"), 0U);
}

// A stiff slope times a long step once put 50 K on this picture.
TEST(DenseOutput, DoesNotOvershootOnLongStepsBesideTheWater) {
  auto c = drain(R"({"kind": "around", "water": {"depth_mm": 30, "temperature_C": 6}})");
  std::get<AfterRelease>(c.stages[3]).duration = 2e5;
  c.discretisation.liner = 48;
  auto const p = predict(c);
  auto const& after = p.history[3];
  double warmest = 0.0;
  auto const first = after.path.state(0);
  for (std::size_t i = 0; i < after.cells; ++i) warmest = std::max(warmest, first[i]);
  std::vector<double> state(after.path.width());
  for (double const t : after.path.refined_times(3)) {
    after.path.state_at(t, state);
    for (std::size_t i = 0; i < after.cells; ++i) ASSERT_LT(state[i], warmest + 0.5) << t;
  }
}

// What is refused

TEST(Section, IsRefusedWithTheFieldAtFault) {
  auto const says = [](std::string const& section) -> std::string {
    try {
      (void)drain(section);
    } catch (InputError const& e) {
      return e.what();
    }
    return "accepted";
  };
  EXPECT_THAT(says(R"({"kind": "across"})"), HasSubstr("section.kind: \"across\""));
  EXPECT_THAT(says(R"({"kind": "around", "columns": 9})"), HasSubstr("even"));
  EXPECT_THAT(says(R"({"kind": "around", "bare_gap_mm": {"from": 1, "to": 2}})"),
              HasSubstr("section.bare_gap_mm: unknown key"));
  EXPECT_THAT(says(R"({"kind": "around", "ground_offset_K": {"clock": [0, 12], "value": [1, 1]}})"),
              HasSubstr("the crown once"));
  EXPECT_THAT(says(R"({"kind": "around", "ground_offset_K": {"clock": [6, 3], "value": [1, 1]}})"),
              HasSubstr("section.ground_offset_K.clock[1]"));
  EXPECT_THAT(says(R"({"kind": "around", "water": {"depth_mm": 151, "temperature_C": 5}})"),
              HasSubstr("section.water.depth_mm"));
  EXPECT_THAT(says(R"({"kind": "along", "length_mm": 700})"), HasSubstr("section.length_mm"));
  EXPECT_THAT(says(R"({"kind": "along", "bare_gap_mm": {"from": 30, "to": 20}})"),
              HasSubstr("section.bare_gap_mm.to"));
  EXPECT_THAT(says(R"({"kind": "along", "bare_gap_mm": {"from": 0, "to": 600}})"),
              HasSubstr("leaves some liner"));
  EXPECT_THAT(says(R"({"kind": "along", "columns": 60, "liner_thickness_mm":
                       {"position_mm": [100, 101], "value": [4, 25]}})"),
              HasSubstr("45 degrees"));
  EXPECT_THAT(says(R"({"kind": "along", "columns": 400})"), HasSubstr("20000 cells"));
}

}  // namespace
}  // namespace cure::process
