#include "cure/decide/answer.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>
#include <variant>
#include <vector>

#include "cure/io/answer_file.hpp"
#include "cure/io/case_file.hpp"

namespace cure::decide {
namespace {

using testing::HasSubstr;

std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";

/// Invented: a clay drain on a mild day.
Case drain(std::string const& resin = "epoxy-amine-fast", double held_min = 600.0,
           std::string const& more = "") {
  std::string const text = R"({"format": "libcure/case/1", "resin": ")" + resin + R"(",
    "pipe": {"inner_diameter_mm": 150, "wall_mm": 16, "material": "vitrified-clay"},
    "liner": {"thickness_mm": 4, "length_mm": 600},
    "ground": {"material": "moist-sand", "temperature_C": 12},
    "initial_temperature_C": {"air": 14},
    "stages": [{"kind": "mixed_mass", "duration_min": 4}, {"kind": "wet_out", "duration_min": 8},
               {"kind": "held", "duration_min": )" +
                           std::to_string(held_min) + R"(, "fill_temperature_C": 16}])" + more +
                           "}";
  return io::parse_case(text, {{models}}, ".", "test");
}

bool has(Decision const& d, std::string const& code) {
  return std::any_of(d.reasons.begin(), d.reasons.end(),
                     [&](auto const& r) { return r.code == code; });
}

TEST(Answer, IsLaterThanNineteenSamplesInTwenty) {
  auto const c = drain();
  auto const a = answer(c);
  ASSERT_TRUE(a.ranges && a.decision.release_time);
  EXPECT_NE(a.decision.status, Status::stop);
  EXPECT_GE(*a.decision.release_time, a.ranges->release_side.bound);
  EXPECT_GE(a.ranges->release_side.bound, a.ranges->release.p95);
  EXPECT_GE(*a.decision.release_time, *a.prediction.verdict.release_time);
  EXPECT_EQ(std::fmod(*a.decision.release_time, 300.0), 0.0);
  EXPECT_LE(*a.decision.working_until, a.ranges->working.p5);
}

TEST(Answer, IsTheSameTwiceAndForAnyNumberOfThreads) {
  auto const c = drain();
  Options one, two;
  one.threads = 1;
  two.threads = 2;
  EXPECT_EQ(io::answer_json(c, answer(c, one)), io::answer_json(c, answer(c, two)));
}

TEST(Answer, WithoutRangesIsThePointTimesTheFactor) {
  auto const c = drain();
  Options point;
  point.stated.reset();
  auto const a = answer(c, point);
  ASSERT_TRUE(a.decision.release_time);
  double const error = a.prediction.verdict.numerical_error->time.at("release").error.value();
  EXPECT_DOUBLE_EQ(*a.decision.release_time,
                   process::rounded_up((*a.prediction.verdict.release_time + error) * 1.25));
  EXPECT_EQ(a.decision.basis, Basis::point);
  EXPECT_THAT(a.decision.headline, HasSubstr("if all is as stated"));
}

TEST(Answer, AddsTheErrorOfTheMeshToTheBoundOfTheSamples) {
  int told_apart = 0;
  for (double factor : {3.0, 4.0}) {
    auto c = drain();
    c.discretisation = c.discretisation.coarser(factor);
    auto const a = answer(c);
    ASSERT_TRUE(a.ranges && a.decision.release_time);
    double const bound = a.ranges->release_side.bound;
    double const error = a.prediction.verdict.numerical_error->time.at("release").error.value();
    EXPECT_GT(error, 0.0);
    EXPECT_DOUBLE_EQ(*a.decision.release_time, process::rounded_up(bound + error));
    told_apart += process::rounded_up(bound + error) > process::rounded_up(bound - error);
  }
  EXPECT_GT(told_apart, 0);
}

TEST(Answer, TakesTheErrorOfTheMeshFromTheTimesToWorkIn) {
  auto c = drain();
  c.discretisation = c.discretisation.coarser(4.0);
  auto const a = answer(c);
  ASSERT_TRUE(a.ranges && a.ranges->latest_in_place && a.decision.latest_in_place);
  double const error = a.prediction.verdict.numerical_error->time.at("working").error.value();
  double const working = a.ranges->working_side.bound;
  EXPECT_GT(error, 0.0);
  EXPECT_EQ(a.decision.working_until, working - error);
  EXPECT_EQ(a.decision.latest_in_place,
            std::min(a.ranges->latest_in_place_side.bound, working) - error);
}

TEST(Answer, SaysWhenItRestsOnTheLatestOfAFewSamples) {
  for (std::size_t samples : {16u, 256u}) {
    Options options;
    options.samples = samples;
    auto const a = answer(drain(), options);
    EXPECT_EQ(a.ranges->release_side.covered, samples > 16);
    EXPECT_EQ(has(a.decision, "few_samples"), samples == 16);
    EXPECT_EQ(a.decision.headline.find("and mind caution") == std::string::npos,
              a.decision.reasons.empty());
  }
}

TEST(Answer, TellsAHoldThatIsTooShortHowLongItMustBe) {
  auto const long_enough = answer(drain()).decision;
  auto const short_hold = answer(drain("epoxy-amine-fast", 45.0)).decision;
  EXPECT_FALSE(has(long_enough, "hold_longer"));
  EXPECT_TRUE(has(short_hold, "hold_longer"));
  EXPECT_EQ(short_hold.status, Status::wait);
  ASSERT_TRUE(short_hold.release_time);
  // The plan's hold does not change when the resin is ready; the numerical error may by a step.
  EXPECT_NEAR(*short_hold.release_time, *long_enough.release_time, 300.0);
}

TEST(Answer, AJobThatIsLateHasNoRelease) {
  auto c = drain();
  c.initial = {313.15, 313.15, 318.15, 285.15, 313.15};
  auto const d = answer(c).decision;
  EXPECT_EQ(d.status, Status::stop);
  EXPECT_FALSE(d.release_time);
  EXPECT_EQ(d.reasons.front().status, Status::stop);
  EXPECT_THAT(d.headline, HasSubstr("DO NOT"));
}

TEST(Answer, AModelWithoutEvidenceInTheColdHasNoRelease) {
  // Published models without diffusion control: their files are read as such.
  for (char const* resin :
       {"polyurethane-winkler-2009", "glass-polyester-bogetti-gillespie-1991"}) {
    auto const c = drain(resin, 2880.0);
    EXPECT_EQ(c.resin.validity.Tg_margin_max, 0.0) << resin;
    EXPECT_FALSE(answer(c).decision.release_time) << resin;
  }
  // The same law with and without: as if the resin never turned to glass.
  auto c = drain("epoxy-amine-medium", 2880.0);
  EXPECT_TRUE(answer(c).decision.release_time);
  auto const& single = std::get<kinetics::SingleReaction<double>>(c.resin.rate.reaction());
  c.resin.rate = {single.law, kinetics::ChemicalControl{}};
  c.resin.validity.Tg_margin_max = 0.0;
  c.uncertain_resin = {};
  auto const a = answer(c);
  EXPECT_EQ(a.prediction.verdict.release_state, process::ReleaseState::outside_model);
  EXPECT_EQ(a.decision.status, Status::stop);
  EXPECT_FALSE(a.decision.release_time);
  EXPECT_EQ(a.ranges->share(process::ReleaseState::outside_model), 1.0);
}

TEST(Answer, ALoadThatNoResinBearsIsSaidAndHasNoRelease) {
  auto c = drain();
  c.release.bears.water_head = 50.0;
  c.liner.thickness = 1e-3;
  auto const d = answer(c).decision;
  EXPECT_TRUE(has(d, "cannot_bear"));
  EXPECT_FALSE(has(d, "release_never"));
  EXPECT_FALSE(d.release_time);
  EXPECT_EQ(d.status, Status::stop);
}

TEST(Answer, CaseWithoutAHoldSaysSo) {
  auto c = drain();
  c.stages.pop_back();
  auto const a = answer(c);
  EXPECT_FALSE(a.decision.release_time);
  EXPECT_THAT(a.decision.headline, HasSubstr("NO RELEASE TIME"));
}

TEST(Answer, SamplesAreChecked) {
  Options options;
  options.samples = 100;
  EXPECT_THROW(answer(drain(), options), InputError);
}

TEST(Words, AreRoundedToTheConservativeSide) {
  EXPECT_EQ(duration(18.0 * 60.0, true), "18 min");
  EXPECT_EQ(duration(104.2 * 60.0, true), "1 h 45 min (105 min)");
  EXPECT_EQ(duration(104.2 * 60.0, false), "1 h 44 min (104 min)");
  EXPECT_EQ(duration(1212.0 * 60.0, true), "20 h 12 min");
  EXPECT_EQ(duration(-64.5 * 60.0, false), "-1 h 5 min (-65 min)");
  EXPECT_EQ(duration(3.21 * 60.0, true), "3.3 min");
  EXPECT_EQ(duration(0.0, false), "0 min");
  EXPECT_EQ(duration(104.0 * 60.0, false), "1 h 44 min (104 min)");
  // What carries round-off is the whole number that it stands for, and nothing has no sign.
  for (double off : {-1e-9, 0.0, 1e-9}) {
    EXPECT_EQ(whole(7.0 + off, true), 7.0);
    EXPECT_EQ(whole(7.0 + off, false), 7.0);
  }
  EXPECT_FALSE(std::signbit(whole(-0.3, true)));
  EXPECT_EQ(per_hundred(0.0547), "6 of 100");
  EXPECT_EQ(per_hundred(0.999), "99 of 100");
  EXPECT_EQ(per_hundred(1.0), "100 of 100");
}

}  // namespace
}  // namespace cure::decide
