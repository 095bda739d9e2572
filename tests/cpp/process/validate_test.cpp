#define CURE_BUILDING  // what is tested here are insides too
#include "cure/process/validate.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <limits>
#include <string>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

#include "cure/ensemble/outcome.hpp"
#include "cure/io/case_file.hpp"
#include "cure/process/predict.hpp"
#include "cure/process/simulate.hpp"

namespace cure::process {
namespace {

using testing::HasSubstr;

Case load(char const* name) {
  std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  return io::load_case(models / "cases" / name, {{models}});
}

template <class Stage>
Stage& stage(Case& c) {
  for (auto& s : c.stages) {
    if (auto* found = std::get_if<Stage>(&s)) return *found;
  }
  throw std::logic_error("no such stage");
}

/// What predict says of a case; empty when it runs.
std::string refusal(Case const& c) {
  try {
    predict(c);
  } catch (InputError const& e) {
    EXPECT_NE(e.value(), "");
    EXPECT_NE(e.allowed(), "");
    return e.what();
  }
  return {};
}

TEST(Case, HoldsTheResinThatTheFibresLeaveRoomFor) {
  Case c = load("cold_ground_winter.json");
  c.pipe.inner_diameter = 0.2;
  c.liner.thickness = 0.01;
  c.liner.length = 2.0;
  c.liner.fibre_volume_fraction = 0.3;
  c.resin.density.reference = 1100.0;
  EXPECT_NEAR(c.resin_in_liner(), 3.14159265 * (0.01 - 0.0081) * 2.0 * 0.7 * 1100.0, 1e-6);
  c.resin.heat_of_reaction = 4e5;
  EXPECT_DOUBLE_EQ(c.heat_of_laminate(), 0.7 * 1100.0 * 4e5);
}

TEST(Case, ALinerThatFillsItsPipeIsRefusedInTheUnitsOfTheDocument) {
  auto document = io::Json::parse(std::ifstream(std::filesystem::path(LIBCURE_SOURCE_DIR) /
                                                "models/cases/cold_ground_winter.json"));
  document["pipe"]["inner_diameter_mm"] = 150;
  document["liner"]["thickness_mm"] = 30;
  std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  try {
    (void)io::parse_case(document.dump(), {{models}}, ".", "thick.json");
    FAIL() << "taken";
  } catch (InputError const& e) {
    EXPECT_EQ(e.field(), "liner.thickness_mm");
    EXPECT_EQ(e.value(), "30");
    EXPECT_EQ(e.allowed(), "less than 40 % of the pipe's inner radius, 30");
  }
}

struct Bad {
  char const* says;
  std::function<void(Case&)> change;
};

double const nan = std::numeric_limits<double>::quiet_NaN();
double const infinite = std::numeric_limits<double>::infinity();

std::vector<Bad> bad_cases() {
  return {
      {"stages: 0; allowed: 1 to 32", [](Case& c) { c.stages.clear(); }},
      {"stages[2]: wet_out; allowed: stages in the order",
       [](Case& c) { std::reverse(c.stages.begin(), c.stages.end()); }},
      {"stages[3]: wet_out; allowed: stages in the order",
       [](Case& c) { c.stages.insert(c.stages.begin() + 3, c.stages[1]); }},
      {"stages: 33; allowed: 1 to 32 stages", [](Case& c) { c.stages.assign(33, c.stages[2]); }},
      {"stages[2].duration: -60 s", [](Case& c) { stage<Held>(c).duration = -60.0; }},
      {"stages[1].duration: 0 s", [](Case& c) { stage<WetOut>(c).duration = 0.0; }},
      {"stages[2].duration: inf s", [](Case& c) { stage<Held>(c).duration = infinite; }},
      {"initial.resin: 5 K; allowed: 213.15 to 573.15 K", [](Case& c) { c.initial.resin = 5.0; }},
      {"initial.fibre: nan K", [](Case& c) { c.initial.fibre = nan; }},
      {"initial.packer: 600 K", [](Case& c) { c.initial.packer = 600.0; }},
      {"initial.pipe: 5 K", [](Case& c) { c.initial.pipe = 5.0; }},
      {"initial.air: 5 K", [](Case& c) { c.initial.air = 5.0; }},
      {"ground.temperature: 5 K", [](Case& c) { c.ground.temperature = 5.0; }},
      {"ground.temperature: 5 K",
       [](Case& c) {
         c.ground.temperature = Schedule({0.0, 60.0}, {280.0, 5.0});
       }},
      {"stages[2].fill_temperature: 5 K", [](Case& c) { stage<Held>(c).fill_temperature = 5.0; }},
      {"stages[0].ambient: nan K", [](Case& c) { stage<MixedMass>(c).ambient = nan; }},
      {"stages[1].ambient: 5 K", [](Case& c) { stage<WetOut>(c).ambient = 5.0; }},
      {"stages[1].absorbed_sun: -1 W/m2", [](Case& c) { stage<WetOut>(c).absorbed_sun = -1.0; }},
      {"stages[1].surroundings: 0 K",
       [](Case& c) {
         stage<WetOut>(c).emissivity = 0.9;
         stage<WetOut>(c).surroundings = 0.0;
       }},
      {"stages[3].bore_temperature: 5 K",
       [](Case& c) { stage<AfterRelease>(c).bore_temperature = 5.0; }},
      {"stages[2].h: -1 W/(m2 K)", [](Case& c) { stage<Held>(c).h = -1.0; }},
      {"stages[2].film.diameter: 0 m", [](Case& c) { stage<Held>(c).film.emplace(); }},
      {"stages[0].mass: 0 kg", [](Case& c) { stage<MixedMass>(c).mass = 0.0; }},
      {"pipe.material.conductivity: -1 W/(m K); allowed: above 0",
       [](Case& c) { c.pipe.material.conductivity = -1.0; }},
      {"liner.fibre.density: 0 kg/m3", [](Case& c) { c.liner.fibre.density = 0.0; }},
      {"ground.material.specific_heat: nan",
       [](Case& c) { c.ground.material.specific_heat = nan; }},
      {"bladder.material.conductivity: 0", [](Case& c) { c.bladder.material.conductivity = 0.0; }},
      {"pipe.inner_diameter: 100 m", [](Case& c) { c.pipe.inner_diameter = 100.0; }},
      {"pipe.wall: 0 m", [](Case& c) { c.pipe.wall = 0.0; }},
      {"liner.thickness: 3 m", [](Case& c) { c.liner.thickness = 3.0; }},
      {"less than 40 % of the pipe's inner radius", [](Case& c) { c.liner.thickness = 0.03; }},
      {"less than 90 % of the liner's inner radius", [](Case& c) { c.bladder.thickness = 0.05; }},
      {"liner.fibre_volume_fraction: 0.8; allowed: 0 to 0.7",
       [](Case& c) { c.liner.fibre_volume_fraction = 0.8; }},
      {"contact.liner_pipe: -1", [](Case& c) { c.contact.liner_pipe = -1.0; }},
      {"ground.radius: 0 m", [](Case& c) { c.ground.radius = 0.0; }},
      {"ground.water.h: 0", [](Case& c) { c.ground.water.emplace(); }},
      {"resin.heat_of_reaction: 0 J/kg", [](Case& c) { c.resin.heat_of_reaction = 0.0; }},
      {"resin.density: nan", [](Case& c) { c.resin.density.reference = nan; }},
      {"resin.alpha_gel: 1.2", [](Case& c) { c.resin.alpha_gel = 1.2; }},
      {"resin.initial_degree_of_cure: -0.1",
       [](Case& c) { c.resin.initial_degree_of_cure = -0.1; }},
      {"resin.glass_transition.Tg_inf", [](Case& c) { c.resin.glass_transition.Tg_inf = 1.0; }},
      {"resin.glass_transition.lambda: 0", [](Case& c) { c.resin.glass_transition.lambda = 0.0; }},
      {"release.alpha_min: 1.5", [](Case& c) { c.release.alpha_min = 1.5; }},
      {"release.Tg_margin: nan K", [](Case& c) { c.release.Tg_margin = nan; }},
      {"release.load_time: 0 s", [](Case& c) { c.release.load_time = 0.0; }},
      {"release.bears.water_head: -1 m", [](Case& c) { c.release.bears.water_head = -1.0; }},
      {"release.bears.pull: nan N", [](Case& c) { c.release.bears.pull = nan; }},
      {"release.bears.factor: 0.5", [](Case& c) { c.release.bears.factor = 0.5; }},
      {"release.safety_factor: 0.5", [](Case& c) { c.release.safety_factor = 0.5; }},
      {"service.temperature: 25 K", [](Case& c) { c.service.temperature = 25.0; }},
      {"discretisation.liner: 1; allowed: at least 2 cells",
       [](Case& c) { c.discretisation.liner = 1; }},
      {"discretisation.tolerance.temperature: 0 K",
       [](Case& c) { c.discretisation.tolerance.temperature = 0.0; }},
      {"discretisation.tolerance.alpha: nan",
       [](Case& c) { c.discretisation.tolerance.alpha = nan; }},
  };
}

TEST(Validate, RefusesWhatCannotBeByFieldValueAndRange) {
  auto const good = load("cold_ground_winter.json");
  EXPECT_EQ(refusal(good), "");
  for (auto const& bad : bad_cases()) {
    auto c = good;
    bad.change(c);
    EXPECT_THAT(refusal(c), HasSubstr(bad.says));
    EXPECT_THROW(Simulation{c}, InputError) << bad.says;
  }
}

TEST(Validate, RefusesAnEmptyCase) {
  EXPECT_THROW(predict(Case{}), InputError);
  EXPECT_THROW(validate(Case{}), InputError);
}

TEST(Validate, RefusesSectionsThatCannotBe) {
  auto const good = load("standing_water_invert.json");
  validate(good);
  std::vector<Bad> const bad = {
      {"section: no stage in the pipe", [](Case& c) { c.stages.resize(1); }},
      {"section.columns: 1", [](Case& c) { c.section->columns = 1; }},
      {"section.water.depth: -1 m", [](Case& c) { c.section->water->depth = -1.0; }},
      {"section.water.temperature: 5 K", [](Case& c) { c.section->water->temperature = 5.0; }},
      {"liner.thickness: 0.05 m",
       [](Case& c) {
         c.section->liner_thickness = {{0.0}, {0.05}, true};
       }},
      {"a slope above 45 degrees",
       [](Case& c) {
         c.section->liner_thickness = {{1.0, 1.01, 2.0, 2.01}, {0.003, 0.025, 0.025, 0.003}, true};
       }},
  };
  for (auto const& b : bad) {
    auto c = good;
    b.change(c);
    try {
      validate(c);
      ADD_FAILURE() << "not refused: " << b.says;
    } catch (InputError const& e) {
      EXPECT_THAT(e.what(), HasSubstr(b.says));
    }
  }
}

/// What the reader lets pass at the very end of a range, in the document's units, runs.
TEST(Validate, HasTheLimitsOfTheReader) {
  std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  auto const document = io::load(models / "cases" / "cold_ground_winter.json");
  auto const read = [&](char const* pointer, double value) {
    auto d = document;
    d["pipe"]["inner_diameter_mm"] = 800.0;
    d[io::Json::json_pointer(pointer)] = value;
    return io::parse_case(d.dump(), {{models}}, ".", "test");
  };
  for (auto const& [pointer, low, high] :
       {std::tuple{"/liner/thickness_mm", 0.3, 60.0}, std::tuple{"/pipe/wall_mm", 0.5, 500.0},
        std::tuple{"/liner/length_mm", 50.0, 50000.0},
        std::tuple{"/initial_temperature_C/resin", -60.0, 300.0},
        std::tuple{"/ground/temperature_C", -60.0, 300.0},
        std::tuple{"/stages/2/duration_min", 1e-3, 1e6}}) {
    EXPECT_NO_THROW(validate(read(pointer, low))) << pointer;
    EXPECT_NO_THROW(read(pointer, high)) << pointer;
    EXPECT_THROW(read(pointer, low - 0.01 * std::abs(low)), InputError) << pointer;
    EXPECT_THROW(read(pointer, high + 0.01 * std::abs(high)), InputError) << pointer;
  }
}

/// Of documents too, when only the whole case shows it: the coldest day of this climate.
TEST(Validate, RefusesAClimateBeyondTheRangeOfTemperatures) {
  std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  auto d = io::load(models / "cases" / "cold_ground_winter.json");
  d["ground"].erase("temperature_C");
  d["ground"]["climate"] = {{"annual_mean_C", -40},
                            {"amplitude_K", 50},
                            {"day_of_minimum", 35},
                            {"depth_m", 0.3},
                            {"day", 35}};
  try {
    io::parse_case(d.dump(), {{models}}, ".", "some.json");
    ADD_FAILURE() << "not refused";
  } catch (InputError const& e) {
    EXPECT_EQ(e.field(), "ground.temperature");
    EXPECT_EQ(e.file(), "some.json");
  }
}

// What keeps a reference takes no temporary.
static_assert(std::is_constructible_v<Simulation, Case const&>);
static_assert(!std::is_constructible_v<Simulation, Case>);
static_assert(!std::is_constructible_v<Simulation, Case const>);
static_assert(std::is_constructible_v<detail::ErrorEstimate, Case const&, History const&>);
static_assert(!std::is_constructible_v<detail::ErrorEstimate, Case const&, History>);
static_assert(
    !std::is_constructible_v<ensemble::Listener, Case, ReleaseNeeds const&, ensemble::Outcome&>);
template <class C>
concept Judged = requires(C&& c) {
  releasable(std::forward<C>(c));
};
static_assert(Judged<Case const&> && !Judged<Case>);

}  // namespace
}  // namespace cure::process
