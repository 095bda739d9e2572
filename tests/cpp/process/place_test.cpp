#include "cure/process/place.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <limits>
#include <string>
#include <vector>

#include "cure/io/case_file.hpp"
#include "cure/process/predict.hpp"

namespace cure::process {
namespace {

using testing::HasSubstr;

std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";

Case winter() { return io::load_case(models / "cases" / "cold_ground_winter.json", {{models}}); }

History const& history() {
  static History const h = predict(winter()).history;
  return h;
}

/// Invented: a clay drain on a coarse mesh; `section` is the JSON of that key.
Case drain(std::string const& section) {
  return io::parse_case(R"({"format": "libcure/case/1", "resin": "epoxy-amine-fast",
    "pipe": {"inner_diameter_mm": 150, "wall_mm": 16, "material": "vitrified-clay"},
    "liner": {"thickness_mm": 4, "length_mm": 600}, "bladder": {"thickness_mm": 4},
    "ground": {"material": "moist-sand", "temperature_C": 10}, "initial_temperature_C": {"air": 14},
    "stages": [{"kind": "mixed_mass", "duration_min": 4}, {"kind": "wet_out", "duration_min": 8},
               {"kind": "held", "duration_min": 600, "fill_temperature_C": 20}],
    "release": {"alpha_min": 0.7},
    "numerics": {"cells": {"bladder": 4, "liner": 10, "pipe": 6, "ground": 16}},
    "section": )" + section +
                            "}",
                        {{models}}, ".", "test");
}

std::string refusal(History const& h, std::string const& place, double t) {
  try {
    at(h, place, t);
  } catch (InputError const& e) {
    return e.what();
  }
  return "none";
}

TEST(Place, IsOneLine) {
  double const T = at(history(), "liner outer face", 3600.0).T;

  // The same by hand.
  auto const& held = history()[2];
  auto const l = held.mesh.find("liner");
  auto const last = held.mesh.first[l + 1] - 1;
  std::vector<double> state(held.path.width());
  held.path.state_at(3600.0 - held.start, state);
  EXPECT_NEAR(T, 1.5 * state[last] - 0.5 * state[last - 1], 1e-9);
}

TEST(Place, OfAVerdictShowsWhatTheVerdictSays) {
  auto const p = predict(winter());
  auto const& mesh = p.history[2].mesh;
  auto const l = mesh.find("liner");
  int compared = 0;
  for (auto const& [name, point] : p.verdict.limiting) {
    // A cell next to a face is named after it too.
    bool const inner = point.radius == mesh.face[mesh.first[l]];
    bool const outer = point.radius == mesh.face[mesh.first[l + 1]];
    if (!inner && !outer) continue;
    EXPECT_EQ(point.position, inner ? "inner face" : "outer face");
    auto const here = at(p.history, point.layer + " " + point.position, point.time);
    EXPECT_NEAR(here.T, point.temperature, 1e-9) << name;
    EXPECT_NEAR(here.alpha, point.alpha, 1e-12) << name;
    ++compared;
  }
  EXPECT_GE(compared, 2);
}

TEST(Place, InTheMixedMassIsTheMass) {
  auto const& pot = history()[0];
  auto const last = pot.path.state(pot.path.times().size() - 1);
  for (char const* place : {"mixed mass", "resin in the bucket", "liner inner face"}) {
    auto const here = at(history(), place, pot.end());
    EXPECT_EQ(here.T, last[0]) << place;
    EXPECT_EQ(here.alpha, last[1]) << place;
  }
}

TEST(Place, WithoutResinHasNoDegreeOfCure) {
  EXPECT_TRUE(std::isnan(at(history(), "pipe middle", 3600.0).alpha));
  auto const liner = at(history(), Place::middle, 3600.0);
  EXPECT_GT(liner.alpha, 0.0);
  EXPECT_LT(liner.alpha, 1.0);
}

TEST(Place, AtTheMomentBetweenTwoStagesIsInTheOneThatHasIt) {
  double const held_from = history()[2].start;
  EXPECT_NEAR(at(history(), "pipe outer face", held_from).T, winter().initial.pipe, 1e-9);
}

TEST(Place, AtManyTimesInAnyOrderIsWhatItIsOneByOne) {
  Eigen::VectorXd const t = Eigen::VectorXd::LinSpaced(50, history().back().end(), 0.0);
  auto const trace = at(history(), "liner inner face", t);
  for (Eigen::Index i = 0; i < t.size(); ++i) {
    auto const one = at(history(), "liner inner face", t(i));
    EXPECT_EQ(trace.T(i), one.T);
    EXPECT_EQ(trace.alpha(i), one.alpha);
  }
  EXPECT_EQ(at(history(), "liner inner face", Eigen::VectorXd()).T.size(), 0);
}

TEST(Place, OnAStraightProfileIsExact) {
  heat::Material const body{"body", 0.3, 1500.0, 1200.0};
  std::vector<heat::Layer> const layers{{"bladder", 0.004, body, 3, 1.0, 0.0},
                                        {"liner", 0.003, body, 5, 1.0, 0.0},
                                        {"pipe", 0.005, body, 4, 3.0, 0.0},
                                        {"ground", 0.5, body, 1, 1.0, 0.0}};
  StageHistory stage;
  stage.mesh = heat::make_mesh(heat::Geometry::slab, 0.05, layers);
  stage.cells = 13;
  stage.first_reacting = 3;
  stage.reacting = 5;
  stage.path = numerics::Trajectory(18);
  auto const T = [](double r) { return 280.0 + 1000.0 * (r - 0.054); };
  std::vector<double> state;
  for (double const r : stage.mesh.node) state.push_back(T(r));
  // From 0 at the inner face to more than the liner's outer face may show.
  for (int j = 0; j < 5; ++j) state.push_back(0.22 * j + 0.11);
  stage.path.append(0.0, state, std::vector<double>(18, 0.0));
  stage.path.append(10.0, state, std::vector<double>(18, 0.0));
  History const h{stage};
  EXPECT_NEAR(at(h, "liner inner face", 5.0).T, T(0.054), 1e-9);
  EXPECT_NEAR(at(h, "liner middle", 5.0).T, T(0.0555), 1e-9);
  EXPECT_NEAR(at(h, "liner outer face", 5.0).T, T(0.057), 1e-9);
  EXPECT_NEAR(at(h, "pipe middle", 5.0).T, T(0.0595), 1e-9);
  EXPECT_NEAR(at(h, "pipe outer face", 5.0).T, T(0.062), 1e-9);
  // One cell has one temperature.
  EXPECT_EQ(at(h, "ground inner face", 5.0).T, state[12]);
  EXPECT_NEAR(at(h, "liner inner face", 5.0).alpha, 0.0, 1e-12);
  EXPECT_NEAR(at(h, "liner middle", 5.0).alpha, 0.55, 1e-12);
  EXPECT_EQ(at(h, "liner outer face", 5.0).alpha, 1.0);
}

TEST(Place, ThatNobodyKnowsIsRefusedWithThoseThatAre) {
  for (char const* name :
       {"", "crown", "liner", "liner outer", "Liner outer face", "mixed mass, 6 o'clock",
        "liner outer face, ", "liner outer face, 6", "liner outer face, 13 o'clock",
        "liner outer face, nan mm along", "liner outer face,6 o'clock"}) {
    EXPECT_THAT(refusal(history(), name, 3600.0),
                HasSubstr(std::string("place: \"") + name + "\"; allowed: mixed mass, or"))
        << name;
  }
  EXPECT_THAT(refusal(history(), "medium", 3600.0),
              HasSubstr("place: \"medium\"; allowed: a place that the job has"));
  EXPECT_THROW(at(History(), "liner middle", 0.0), InputError);
}

TEST(Place, AtATimeThatItDoesNotHaveIsRefusedWithTheTimes) {
  double const end = history().back().end();
  for (double const t : {-1.0, end + 1.0, std::numeric_limits<double>::quiet_NaN()}) {
    EXPECT_THAT(refusal(history(), "liner middle", t),
                HasSubstr("s at the place \"liner middle\"; allowed: 0 to "));
  }
  // The pipe is there from the hold on, the bladder until its end.
  EXPECT_THAT(refusal(history(), "pipe middle", 60.0),
              HasSubstr("time: 60 s at the place \"pipe middle\"; allowed: 840 to "));
  EXPECT_THAT(refusal(history(), "bladder middle", end), HasSubstr("(held)"));
  EXPECT_THAT(refusal(history(), "mixed mass", 3600.0), HasSubstr("(mixed_mass)"));
}

// Sections

TEST(Place, AtTheEndsOfASectionIsInItsOutermostColumns) {
  heat::SectionMesh section;
  section.section = heat::Section::along;
  section.edge = {0.0, 0.1, 0.3, 0.6};
  Place place(Part::liner, Position::outer_face);
  auto const column = [&](double x) {
    place.distance = x;
    return detail::column_of(section, place);
  };
  // A length that was printed and read again may be off by its last digit.
  EXPECT_EQ(column(-1e-10), 0u);
  EXPECT_EQ(column(0.0), 0u);
  EXPECT_EQ(column(0.1), 1u);
  EXPECT_EQ(column(0.3 - 1e-10), 1u);
  EXPECT_EQ(column(0.6 + 1e-10), 2u);
  EXPECT_THROW(column(-1e-3), InputError);
}

TEST(Place, InASectionNeedsItsColumn) {
  auto const h =
      predict(
          drain(
              R"({"kind": "around", "columns": 8, "water": {"depth_mm": 20, "temperature_C": 4}})"))
          .history;
  EXPECT_THAT(refusal(h, "liner outer face", 3600.0),
              HasSubstr("such as \"liner outer face, 6 o'clock\""));
  EXPECT_THAT(refusal(h, "liner outer face, 20 mm along", 3600.0), HasSubstr("6 o'clock"));
  double const invert = at(h, "liner inner face, 6 o'clock", 3600.0).T;
  double const crown = at(h, "liner inner face, 12 o'clock", 3600.0).T;
  EXPECT_LT(invert, crown - 1.0);
  // Left is as right in a pipe that is the same on both sides.
  EXPECT_EQ(at(h, "liner middle, 3 o'clock", 3600.0).T, at(h, "liner middle, 9 o'clock", 3600.0).T);
  EXPECT_EQ(at(h, "liner middle, 4 and 8 o'clock", 3600.0).T,
            at(h, "liner middle, 4 o'clock", 3600.0).T);
  // A stage in one dimension stands in every column alike.
  EXPECT_EQ(at(h, "liner middle, 3 o'clock", 600.0).T, at(h, "liner middle", 600.0).T);
}

TEST(Place, OfASectionsVerdictShowsWhatTheVerdictSays) {
  auto const c =
      drain(R"({"kind": "around", "columns": 8, "water": {"depth_mm": 20, "temperature_C": 4}})");
  auto const p = predict(c);
  auto const& release = p.verdict.limiting.at("release");
  ASSERT_EQ(release.position, "outer face");
  Place place(Part::liner, Position::outer_face);
  place.angle = release.angle;
  auto const here = at(p.history, place, release.time);
  EXPECT_NEAR(here.T, release.temperature, 1e-6);
  EXPECT_NEAR(here.alpha, release.alpha, 1e-9);
}

TEST(Place, InAGapIsNotInTheLiner) {
  auto const h = predict(drain(R"({"kind": "along", "length_mm": 200, "columns": 20,
    "bare_gap_mm": {"from": 90, "to": 100}, "bare_pipe_mm": 40})"))
                     .history;
  EXPECT_THAT(refusal(h, "liner middle, 95 mm along", 3600.0), HasSubstr("(wet_out)"));
  EXPECT_THAT(refusal(h, "liner middle, 250 mm along", 3600.0), HasSubstr("-40 to 200 mm along"));
  EXPECT_THAT(refusal(h, "liner middle, 6 o'clock", 3600.0), HasSubstr("250 mm along"));
  EXPECT_GT(at(h, "liner middle, 80 mm along", 3600.0).alpha, 0.0);
  EXPECT_GT(at(h, "pipe middle, 95 mm along", 3600.0).T, 270.0);
}

// Names

TEST(PlaceName, IsReadAndWrittenAlike) {
  for (char const* name : {"mixed mass", "medium", "bladder inner face", "ground outer face",
                           "liner middle, 6 o'clock", "liner middle, 12 o'clock",
                           "liner middle, 2.5 o'clock", "pipe outer face, 250 mm along"}) {
    EXPECT_EQ(Place(name).name(), name);
  }
  EXPECT_EQ(Place("resin in the bucket").name(), "mixed mass");
  EXPECT_EQ(Place("liner outer face"), Place::outer_face);
  EXPECT_EQ(Place("medium"), Place::medium);
  EXPECT_NEAR(*Place("liner middle, 9 o'clock").angle, full_turn / 4.0, 1e-12);
  EXPECT_THAT(places_of(Part::liner),
              testing::ElementsAre("liner inner face", "liner middle", "liner outer face"));
}

}  // namespace
}  // namespace cure::process
