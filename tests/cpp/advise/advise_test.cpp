#define CURE_BUILDING  // what is tested here are insides too
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

#include "cure/io/advice_file.hpp"

namespace cure::advise {
namespace {

using io::Json, testing::ElementsAre, testing::HasSubstr;

std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
io::ModelLibrary const library{{models}};

/// Invented: a clay drain on a mild day.
Json drain(double packer_C = 14.0, double hold_min = 600.0, double air_C = 14.0) {
  return {{"format", "libcure/case/1"},
          {"resin", "epoxy-amine-fast"},
          {"pipe", {{"inner_diameter_mm", 150}, {"wall_mm", 16}, {"material", "vitrified-clay"}}},
          {"liner", {{"thickness_mm", 4}, {"length_mm", 600}}},
          {"ground", {{"material", "moist-sand"}, {"temperature_C", 12}}},
          {"initial_temperature_C", {{"air", air_C}, {"packer", packer_C}}},
          {"stages",
           {{{"kind", "mixed_mass"}, {"duration_min", 4}},
            {{"kind", "wet_out"}, {"duration_min", 8}},
            {{"kind", "held"}, {"duration_min", hold_min}, {"fill_temperature_C", 16}}}}};
}

/// On a hot day, with a slower hardener.
Json hot_drain() {
  auto document = drain(25.0, 600.0, 22.0);
  document["resin"] = "epoxy-amine-medium";
  return document;
}

Case read(Json const& document) { return io::read_case(document, library, ".", "test"); }

Json pointer_set(Json document, std::string const& path, Json const& value) {
  // "stages[2].duration_min" as a JSON pointer.
  std::string pointer = "/";
  for (char const c : path) {
    if (c == '.' || c == '[') {
      pointer += '/';
    } else if (c != ']') {
      pointer += c;
    }
  }
  document[Json::json_pointer(pointer)] = value;
  return document;
}

Json edited(Json document, Json const& changes) {
  for (auto const& [path, value] : changes.items()) document = pointer_set(document, path, value);
  return document;
}

Options point() {
  Options o;
  o.stated.reset();
  return o;
}

decide::Answer point_answer(Json const& document) {
  decide::Options o;
  o.stated.reset();
  return decide::answer(read(document), o);
}

Advice advice_on(Json const& document, Options const& options,
                 std::vector<std::string> const& resins = {}) {
  return advise(io::read_job(document, library, ".", "test", resins), options);
}

Proposal const* find(Advice const& a, std::vector<Kind> const& kind) {
  auto const found = std::find_if(a.proposals.begin(), a.proposals.end(),
                                  [&](Proposal const& p) { return p.kind == kind; });
  return found == a.proposals.end() ? nullptr : &*found;
}

// Changes

TEST(Changes, AreTheSameCaseAsTheEditedDocument) {
  auto table = drain(), cycle = drain(), sun = drain(), plain = drain();
  auto& held = table["stages"][2];
  held["fill_temperature_C"] = {{"time_min", {0, 30}}, {"value", {12, 40}}};
  cycle["stages"][2].erase("fill_temperature_C");
  cycle["stages"][2]["fill_cycle"] = {{"start_C", 15},
                                      {"legs",
                                       {{{"to_C", 50}, {"rate_K_min", 1.5}, {"hold_min", 60}},
                                        {{"to_C", 20}, {"rate_K_min", 1.0}, {"hold_min", 0}}}}};
  sun["stages"][1]["absorbed_sun_W_m2"] = 400;
  plain["stages"][2].erase("fill_temperature_C");
  plain["stages"][0]["surface_area_m2"] = 0.02;  // a bucket
  plain["stages"][1]["ambient_temperature_C"] = 35;
  Changes warm, all;
  warm.fill = kelvin_from_celsius(45.0);
  all.resin = kelvin_from_celsius(10.0);
  all.packer = kelvin_from_celsius(5.0);
  all.in_place = 600.0;
  all.hold = 3000.0 * 60.0;  // the ground counts farther, its radius being a default
  for (auto const& document : {table, cycle, sun, plain}) {
    auto const job = io::read_job(document, library, ".", "test", std::vector<std::string>{});
    all.procedures.clear();
    for (auto const& p : procedures) {
      if (p.helps(job.planned)) all.procedures.insert(p.kind);
    }
    EXPECT_EQ(all.procedures.contains(Kind::shade), document == sun);
    EXPECT_EQ(all.procedures.contains(Kind::smaller_mix), document == plain);
    EXPECT_EQ(all.procedures.contains(Kind::wrap), document == plain);
    EXPECT_TRUE(all.procedures.contains(Kind::spread));
    for (auto const& x : {warm, all, together(warm, all)}) {
      auto const by_document = read(edited(document, io::changes_json(document, job, x)));
      auto const by_type = changed(job, x);
      EXPECT_EQ(by_type.ground.radius, by_document.ground.radius);
      auto const a = decide::answer(by_type, {std::nullopt, std::nullopt, true, 1});
      auto const b = decide::answer(by_document, {std::nullopt, std::nullopt, true, 1});
      auto said = io::answer_json(by_type, a);
      said["defaults"] = by_document.defaults;
      EXPECT_EQ(said, io::answer_json(by_document, b));
      EXPECT_NE(said["criterion_met_min"],
                io::answer_json(job.planned, point_answer(document))["criterion_met_min"]);
    }
  }
}

TEST(Changes, OfAnotherResinCarryOver) {
  auto const job =
      io::read_job(drain(), library, ".", "test", std::vector<std::string>{"epoxy-amine-slow"});
  Changes x;
  x.hardener = 0;
  x.resin = kelvin_from_celsius(10.0);
  auto const c = changed(job, x);
  EXPECT_EQ(c.resin.id, "epoxy-amine-slow");
  EXPECT_EQ(c.initial.resin, *x.resin);
  EXPECT_EQ(io::changes_json(drain(), job, x),
            (Json{{"resin", "epoxy-amine-slow"}, {"initial_temperature_C.resin", 10.0}}));
}

// What is found, held against every value tried by decide::answer

TEST(Advise, IcingIsTheFirstValueThatWillDoAndOneStepMore) {
  auto const document = hot_drain();
  for (double const working : {30.0, 33.0, 36.0}) {
    auto options = point();
    options.working = 60.0 * working;
    auto const a = advice_on(document, options);
    ASSERT_FALSE(a.planned.unmet.empty());
    // Whether the liner may be held so late: its wet-out goes on until then.
    std::vector<double> good;
    for (double T = 20.0; T >= 2.0; T -= 2.0) {
      auto later = pointer_set(document, "initial_temperature_C.resin", T);
      later["stages"][1]["duration_min"] = working - 4.0;
      auto const v = process::predict(read(later)).verdict;
      if (*v.working_margin >= 0.0) good.push_back(T);
    }
    ASSERT_GE(good.size(), 2u);
    auto const* p = find(a, {Kind::resin_temperature});
    ASSERT_NE(p, nullptr);
    EXPECT_TRUE(p->does_it());
    EXPECT_EQ(stated_celsius(*p->value), good[1]);
    EXPECT_LE(stated_celsius(*p->edge) - good[0], 2.0);
    EXPECT_GE(stated_celsius(*p->edge), good[0]);
  }
}

TEST(Advise, LeavesOutAProcedureThatBringsNothing) {
  for (double const sun : {0.01, 600.0}) {
    auto document = hot_drain();
    document["stages"][1]["absorbed_sun_W_m2"] = sun;
    auto options = point();
    options.working = 60.0 * 36.0;
    auto const a = advice_on(document, options);
    ASSERT_FALSE(a.planned.unmet.empty());
    bool const shaded = std::ranges::any_of(
        a.proposals, [](Proposal const& p) { return std::ranges::count(p.kind, Kind::shade) > 0; });
    EXPECT_EQ(shaded, sun > 1.0) << sun;
  }
}

TEST(Advise, FillIsTheFirstValueThatWillDoAndOneStepMore) {
  auto const document = drain();
  for (double const by : {106.0, 120.0, 132.0}) {
    auto options = point();
    options.release_by = 60.0 * by;
    auto const a = advice_on(document, options);
    std::vector<double> good;
    for (double T = 20.0; T <= 60.0; T += 5.0) {
      auto const d =
          point_answer(pointer_set(document, "stages[2].fill_temperature_C", T)).decision;
      if (d.release_time && *d.release_time <= 60.0 * by) good.push_back(T);
    }
    ASSERT_GE(good.size(), 2u);
    auto const* p = find(a, {Kind::fill_temperature});
    ASSERT_NE(p, nullptr) << by;
    EXPECT_TRUE(p->does_it());
    EXPECT_EQ(stated_celsius(*p->value), good[1]);
    EXPECT_LE(*p->outcome.decision.release_time, 60.0 * by);
  }
}

TEST(Advise, HoldIsHalfHoursWithOneInReserve) {
  auto const document = drain(14.0, 60.0);
  auto const a = advice_on(document, point());
  auto const* p = find(a, {Kind::hold});
  ASSERT_NE(p, nullptr);
  EXPECT_TRUE(p->does_it());
  EXPECT_EQ(std::fmod(*p->value, 1800.0), 0.0);
  auto const stops = [&](double hold_min) {
    auto const d = point_answer(pointer_set(document, "stages[2].duration_min", hold_min)).decision;
    return !unmet_by(d).empty();
  };
  EXPECT_FALSE(stops(*p->value / 60.0 - 30.0));
  EXPECT_TRUE(stops(*p->value / 60.0 - 60.0));
}

TEST(Advise, ConservativeSidesAreMetToo) {
  Options options;
  options.samples = 64;
  options.working = 26.0 * 60.0;
  auto const document = hot_drain();
  auto const a = advice_on(document, options);
  auto const* p = find(a, {Kind::resin_temperature});
  ASSERT_NE(p, nullptr);
  ASSERT_TRUE(p->does_it());
  EXPECT_LT(*p->value, *p->middle);
  EXPECT_GE(*p->outcome.sides->latest_in_place, *options.working);
  // The release that is told is the answer's of the document with the changes in it.
  auto const job = io::read_job(document, library, ".", "test", std::vector<std::string>{});
  decide::Options same;
  same.samples = 64;
  auto const d =
      decide::answer(read(edited(document, io::changes_json(document, job, p->changes))), same)
          .decision;
  EXPECT_EQ(d.release_time, p->outcome.decision.release_time);
  EXPECT_EQ(d.status, p->outcome.decision.status);
}

TEST(Advise, MoreToDoNeverTakesLess) {
  double coldest = 1e9;
  for (double working = 24.0; working <= 40.0; working += 4.0) {
    auto options = point();
    options.working = 60.0 * working;
    auto const a = advice_on(hot_drain(), options);
    auto const* p = find(a, {Kind::resin_temperature});
    if (a.planned.unmet.empty()) {
      EXPECT_EQ(p, nullptr);
      continue;
    }
    double const value = p != nullptr && p->does_it() ? *p->value : 0.0;
    EXPECT_LE(value, coldest) << working;
    coldest = value;
  }
  EXPECT_LT(coldest, 1e9);
}

TEST(Advise, NothingNeedsChangingOnlyWhereTheDecisionIsOk) {
  int ok = 0, others = 0;
  for (double const packer : {8.0, 25.0, 45.0, 60.0}) {
    for (double const hold : {60.0, 600.0}) {
      auto const document = drain(packer, hold);
      auto const a = advice_on(document, point());
      auto const d = point_answer(document).decision;
      EXPECT_EQ(a.planned.decision.release_time, d.release_time);
      EXPECT_EQ(a.planned.decision.status, d.status);
      if (a.nothing_to_change()) {
        ++ok;
        EXPECT_EQ(d.status, decide::Status::ok);
        EXPECT_TRUE(a.proposals.empty() && a.no_values.empty());
        EXPECT_THAT(a.headline, HasSubstr("NOTHING NEEDS CHANGING"));
        EXPECT_GE(a.planned.safest().latest_in_place.value_or(1e9), a.needs.working);
      } else {
        ++others;
        EXPECT_FALSE(a.proposals.empty() && a.no_values.empty());
      }
      for (std::size_t i = 0; i < a.proposals.size(); ++i) {
        EXPECT_EQ(a.proposals[i].does_it(), i < a.good());
      }
    }
  }
  EXPECT_GT(ok, 0);
  EXPECT_GT(others, 0);
}

TEST(Advise, PutsChangesTogetherWhereOneIsNotEnough) {
  auto const a = advice_on(drain(25.0, 600.0, 22.0), point());
  std::size_t most = 0;
  for (auto const& p : a.proposals) most = std::max(most, p.kind.size());
  EXPECT_GE(most, 2u);
  for (auto const& p : a.proposals) {
    if (p.kind.size() < 2 || !p.does_it()) continue;
    // None of its parts does it alone.
    for (auto const kind : p.kind) {
      auto const* alone = find(a, {kind});
      EXPECT_TRUE(alone == nullptr || !alone->does_it());
    }
  }
}

TEST(Advise, ComparesOtherResins) {
  auto const a = advice_on(drain(45.0), point(), {"epoxy-amine-slow", "epoxy-amine-slow"});
  ASSERT_EQ(a.hardeners.size(), 2u);
  EXPECT_TRUE(a.hardeners[0].own);  // by working time, shortest first
  EXPECT_EQ(a.hardeners[1].resin, "epoxy-amine-slow");
  EXPECT_LT(*a.hardeners[0].outcome.latest_in_place, *a.hardeners[1].outcome.latest_in_place);
  auto const alike = io::read_job(drain(), library, ".", "test", std::nullopt);
  std::vector<std::string> names;
  for (auto const& other : alike.others) names.push_back(other.name);
  EXPECT_THAT(names, testing::Contains("epoxy-amine-slow"));
  EXPECT_THAT(names, testing::Not(testing::Contains("epoxy-amine-fast")));
  EXPECT_TRUE(std::is_sorted(names.begin(), names.end()));
}

TEST(Advise, IsTheSameForAnyNumberOfThreads) {
  Options one;
  one.samples = 32;
  one.threads = 1;
  auto two = one;
  two.threads = 3;
  auto const job = io::read_job(drain(45.0), library, ".", "test", std::vector<std::string>{});
  EXPECT_EQ(io::advice_json(drain(45.0), job, advise(job, one)),
            io::advice_json(drain(45.0), job, advise(job, two)));
}

TEST(Advise, StopsWhenItIsAskedTo) {
  auto const job = io::read_job(drain(45.0), library, ".", "test", std::vector<std::string>{});
  int asked = 0;
  numerics::StopScope const scope([&asked] { return ++asked > 20; });
  EXPECT_THROW(advise(job), numerics::Stopped);
}

// Needs

TEST(Needs, EveryReasonThatStopsAJobTellsOfOne) {
  for (auto const* code : decide::detail::stopping) {
    decide::Decision d;
    d.reasons.push_back({code, "", decide::Status::stop});
    bool const unreliable = decide::detail::is_among(decide::detail::unreliable, code);
    EXPECT_EQ(unmet_by(d) == Unmet{Need::model}, unreliable) << code;
    d.reasons[0].status = decide::Status::wait;
    EXPECT_TRUE(unmet_by(d).empty()) << code;
  }
  decide::Decision d;
  d.reasons = {{"hold_longer", "", decide::Status::wait},
               {"few_samples", "", decide::Status::wait}};
  EXPECT_THAT(unmet_by(d), ElementsAre(Need::release));
}

TEST(Needs, RefuseWhatContradictsTheJob) {
  // Runs point to their job.
  static_assert(!std::is_constructible_v<Trials, Job&&, Options const&>);
  auto const c = read(drain());
  std::string allowed;
  auto const refused = [&](auto const& set) -> std::string {
    auto o = point();
    set(o);
    try {
      needs_of(c, o);
      check(o.reach);
    } catch (InputError const& e) {
      allowed = e.allowed();
      return e.field();
    }
    return {};
  };
  EXPECT_EQ(refused([](Options&) {}), "");
  EXPECT_EQ(refused([](Options& o) { o.working = 60.0; }), "working");
  EXPECT_EQ(allowed, "at least 12 min, when the case holds the liner");
  EXPECT_EQ(refused([](Options& o) { o.working = std::nan(""); }), "working");
  EXPECT_EQ(refused([](Options& o) { o.reserve = -1.0; }), "reserve");
  EXPECT_EQ(refused([](Options& o) { o.working = o.reserve = 1800.0; }), "reserve_min");
  EXPECT_EQ(refused([](Options& o) { o.release_by = 900.0; }), "release_by");
  EXPECT_EQ(refused([](Options& o) { o.reach.coldest_resin = 2.0; }), "coldest_resin");
  EXPECT_EQ(refused([](Options& o) { o.reach.hottest_fill = 600.0; }), "hottest_fill");
  EXPECT_EQ(refused([](Options& o) { o.reach.longest_hold = 0.0; }), "longest_hold");
  auto document = drain();
  document["stages"].erase(2);
  EXPECT_THROW(needs_of(read(document), point()), InputError);
}

// Documents

TEST(AdviceOptions, AreReadStrictly) {
  auto const o = io::read_advice_options({{"working", "0:45"},
                                          {"release_by", " 330 "},
                                          {"coldest_resin_C", 5},
                                          {"longest_hold_min", "48:00"},
                                          {"samples", 64},
                                          {"resins", {" epoxy-amine-slow"}}})
                     .options;
  EXPECT_EQ(o.working, 45.0 * 60.0);
  EXPECT_EQ(o.release_by, 330.0 * 60.0);
  EXPECT_EQ(o.reach.longest_hold, 48.0 * 3600.0);
  EXPECT_EQ(stated_celsius(o.reach.coldest_resin), 5.0);
  EXPECT_EQ(o.samples, 64u);
  std::pair<char const*, Json> const bad[] = {
      {"working", "soon"},
      {"working", "5:60"},
      {"working", ":30"},
      {"working", "5:3"},
      {"working", "1:30:00"},
      {"working", true},
      {"release_by", "5:60"},
      {"release_by", 1e9},
      {"release_by", "nan"},
      {"reserve_min", -1},
      {"coldest_resin_C", 50},
      {"hottest_fill_C", "hot"},
      {"longest_hold_min", 0},
      {"longest_hold_min", "-5"},
      {"samples", 8},
      {"samples", 16.5},
      {"threads", 0},
      {"resins", {1}},
      {"resins", Json(std::vector<std::string>(13, "epoxy-amine-fast"))},
      {"worknig", 30}};
  for (auto const& [key, value] : bad) {
    try {
      io::read_advice_options({{key, value}});
      ADD_FAILURE() << key << " " << value;
    } catch (InputError const& e) {
      EXPECT_EQ(e.field(), key);
    }
  }
}

TEST(AdviceDocument, SaysWhatTheAdviceSays) {
  io::AdviceRequest request;
  request.options = point();
  request.resins = {"epoxy-amine-slow"};
  auto const document = drain(45.0);
  auto const said = io::advise_document(document, library, ".", "test", request);
  auto const a = advice_on(document, point(), {"epoxy-amine-slow"});
  EXPECT_EQ(said["headline"], a.headline);
  ASSERT_EQ(said["proposals"].size(), a.proposals.size());
  int numbers = 0;
  for (std::size_t i = 0; i < a.proposals.size(); ++i) {
    auto const& p = said["proposals"][i];
    auto const& of = a.proposals[i];
    EXPECT_EQ(p["does_it"], of.does_it());
    bool const hold = of.kind.back() == Kind::hold || of.kind.back() == Kind::in_place;
    for (auto const& [key, value] :
         {std::pair{"value", of.value},
          {"middle_value", of.middle},
          {"edge", of.edge},
          {"works_to", of.works_to},
          {"searched", of.searched ? std::optional(of.searched->first) : std::nullopt}}) {
      auto const unit = std::string(key) + (hold ? "_min" : "_C");
      ASSERT_EQ(p.contains(unit), value.has_value()) << unit;
      if (!value) continue;
      ++numbers;
      auto const& said_value = p[unit].is_array() ? p[unit][0] : p[unit];
      EXPECT_EQ(said_value, hold ? *value / 60.0 : stated_celsius(*value)) << unit;
    }
    auto const d = point_answer(edited(document, p["changes"])).decision;
    EXPECT_EQ(p["outcome"]["release_min"], io::detail::minutes_or_null(d.release_time));
  }
  EXPECT_GT(numbers, 4);
  request.options.working = 60.0;
  try {
    io::advise_document(document, library, ".", "test", request);
    ADD_FAILURE();
  } catch (InputError const& e) {
    EXPECT_EQ(e.file(), "test");
  }
}

// Words

TEST(Words, RoundToTheConservativeSide) {
  EXPECT_EQ(keep_to(119.9 * 60.0), "1 h 59");
  EXPECT_EQ(wait_for(119.1 * 60.0), "2 h");
  EXPECT_EQ(keep_to(14.0 * 60.0), "14 min");
  EXPECT_EQ(wait_for(50.0 * 3600.0), "50 h");
  EXPECT_EQ(keep_to(std::nullopt), "no limit met");
  EXPECT_EQ(wait_for(std::nullopt), "never");
  EXPECT_EQ(keep_to(-60.0), "0 min");
}

}  // namespace
}  // namespace cure::advise
