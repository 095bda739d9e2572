#include "cure/ensemble/traces.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

#include "cure/io/case_file.hpp"
#include "cure/process/predict.hpp"

namespace cure::ensemble {
namespace {

Case winter(char const* name = "cold_ground_winter.json") {
  std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
  return io::load_case(models / "cases" / name, {{models}});
}

struct Rows {
  std::vector<Input const*> inputs{&find_input("resin.rate_factor"),
                                   &find_input("ground.temperature_offset_K")};
  std::vector<double> values{0.9, 1.0, 1.1, 1.2, -2.0, 0.0, 1.0, 2.0};
  std::vector<double> times{100.0, 900.0, 1800.0, 3600.0, 5400.0, 60000.0};
};

TracePlan plan(Case const& c, Rows const& r, Place place) {
  TracePlan p;
  p.base = &c;
  p.inputs = r.inputs;
  p.values = r.values;
  p.rows = 4;
  p.place = place;
  p.times = r.times;
  return p;
}

TEST(Traces, AreTheSameForAnyNumberOfThreads) {
  auto const c = winter();
  Rows const rows;
  auto p = plan(c, rows, Place::middle);
  p.threads = 1;
  auto const one = traces(p);
  p.threads = 3;
  EXPECT_EQ(one.temperature, traces(p).temperature);
  for (auto const& why : one.failure) EXPECT_EQ(why, "");
}

/// The whole job as predict solves it, on four times as fine a mesh, to a time within the hold.
TEST(Traces, AreThoseOfTheJobSolvedAlone) {
  auto c = winter();
  Rows const rows;
  auto fine = c;
  fine.discretisation = process::discretisation(process::Accuracy::fine);
  auto const history = process::predict(fine).history;
  auto const& held = history[2];
  ASSERT_EQ(held.kind, process::StageKind::held);
  auto const l = held.mesh.find("liner");
  auto const first = held.mesh.first[l], last = held.mesh.first[l + 1] - 1;
  double const k = fine.laminate().conductivity, k_pipe = fine.pipe.material.conductivity;
  double const area = 2.0 * M_PI * held.mesh.face[last + 1];
  auto const shell = [](double a, double b, double k_of) {
    return heat::shell_resistance(heat::Geometry::cylinder, a, b, k_of);
  };
  double const half = shell(held.mesh.node[last], held.mesh.face[last + 1], k);
  double const beyond = fine.contact.liner_pipe / area +
                        shell(held.mesh.face[last + 1], held.mesh.node[last + 1], k_pipe);
  std::vector<double> state(held.path.width());
  for (auto const place : {Place::inner_face, Place::middle, Place::outer_face}) {
    auto const found = traces(plan(c, rows, place));
    // The second row is the case itself.
    for (std::size_t i = 1; i < 5; ++i) {
      held.path.state_at(rows.times[i] - held.start, state);
      // What flows out of the liner decides the temperature of its outer face.
      double const q = (state[last] - state[last + 1]) / (half + beyond);
      double const T = place == Place::inner_face ? state[first]
                       : place == Place::middle   ? state[(first + last) / 2]
                                                  : state[last] - q * half;
      EXPECT_NEAR(found.temperature[rows.times.size() + i], T, 0.25) << rows.times[i];
    }
  }
  auto const pot = traces(plan(c, rows, Place::outer_face));
  std::vector<double> lump(history[0].path.width());
  history[0].path.state_at(rows.times[0], lump);
  EXPECT_NEAR(pot.temperature[rows.times.size()], lump[0], 0.01);
}

TEST(Traces, KeepTheBladderInToTheEndOfTheHold) {
  auto const c = winter();  // released after some two hours, then air of 12 degC in the bore
  Rows const rows;
  auto const found = traces(plan(c, rows, Place::inner_face));
  double const late = found.temperature[rows.times.size() + 5];
  EXPECT_GT(late, c.ground.temperature.at(0.0));
  EXPECT_LT(late, 273.15 + 6.0);
  EXPECT_EQ(needed_hold(c).first, 14.0 * 60.0);
  EXPECT_EQ(needed_hold(c).second, 1454.0 * 60.0);
}

TEST(Traces, OfTheMediumAreWhatTheCaseSays) {
  auto const c = winter();
  Rows const rows;
  auto const found = traces(plan(c, rows, Place::medium));
  EXPECT_DOUBLE_EQ(found.temperature[0], 273.15 + 3.0);
  EXPECT_DOUBLE_EQ(found.temperature[2], 273.15 + 6.0);
}

TEST(Traces, AreRowsByTimesWhereTheyStand) {
  auto const c = winter();
  Rows const rows;
  auto const found = traces(plan(c, rows, "liner outer face"));
  auto const T = found.temperatures();
  ASSERT_EQ(T.rows(), 4);
  ASSERT_EQ(T.cols(), 6);
  EXPECT_EQ(T.data(), found.temperature.data());
  EXPECT_EQ(T(2, 5), found.temperature[17]);
  EXPECT_EQ(Traces().temperatures().size(), 0);
}

TEST(Traces, OfARowThatFailsAreMissingAndSaidSo) {
  auto const c = winter();
  Rows rows;
  rows.inputs = {&find_input("liner.thickness_factor")};
  rows.values = {1.0, 100.0, 1.1, 1.2};
  auto const found = traces(plan(c, rows, Place::middle));
  EXPECT_NE(found.failure[1].find("liner.thickness"), std::string::npos);
  EXPECT_TRUE(std::isnan(found.temperature[rows.times.size()]));
  EXPECT_EQ(found.failure[2], "");
  EXPECT_FALSE(std::isnan(found.temperature[2 * rows.times.size()]));
}

TEST(Traces, RefuseWhatMakesNoSense) {
  auto const c = winter();
  Rows rows;
  rows.times = {900.0, 800.0};
  EXPECT_THROW(traces(plan(c, rows, Place::middle)), InputError);
  rows.times = {900.0, 1e9};
  EXPECT_THROW(traces(plan(c, rows, Place::middle)), InputError);
  rows.times = {900.0};
  rows.values.pop_back();
  EXPECT_THROW(traces(plan(c, rows, Place::middle)), InputError);
  auto const section = winter("standing_water_invert.json");
  EXPECT_THROW(traces(plan(section, Rows{}, Place::middle)), InputError);
  for (char const* place : {"pipe middle", "mixed mass", "bladder outer face"}) {
    EXPECT_THROW(traces(plan(c, Rows{}, place)), InputError) << place;
  }
  auto no_hold = c;
  no_hold.stages.resize(2);
  EXPECT_THROW(needed_hold(no_hold), InputError);
}

}  // namespace
}  // namespace cure::ensemble
