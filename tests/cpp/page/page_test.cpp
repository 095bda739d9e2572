#include "cure/page/page_of.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <limits>
#include <random>
#include <regex>
#include <string>
#include <tuple>
#include <vector>

#include "cure/io/answer_file.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/page_file.hpp"
#include "cure/page/text.hpp"

namespace cure::page {
namespace {

using testing::HasSubstr;
using testing::Not;

std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
constexpr double never = std::numeric_limits<double>::infinity();

std::vector<std::filesystem::path> shipped() {
  std::vector<std::filesystem::path> files;
  for (auto const& file : std::filesystem::directory_iterator(models / "cases")) {
    files.push_back(file.path());
  }
  return files;
}

process::Case cold() {
  return io::load_case(models / "cases" / "cold_ground_winter.json", {{models}});
}

decide::Answer point_answer(process::Case const& c) {
  decide::Options options;
  options.stated.reset();
  return decide::answer(c, options);
}

Row const& row(Page const& p, std::string const& name) {
  auto const found =
      std::find_if(p.rows.begin(), p.rows.end(), [&](auto const& r) { return r.name == name; });
  if (found == p.rows.end()) throw std::runtime_error("no row " + name);
  return *found;
}

std::string fact(Page const& p, std::string const& name) {
  for (auto const& f : p.facts) {
    if (f.name == name) return f.value;
  }
  return "";
}

/// As it stands on one line, however it was wrapped.
std::string unwrapped(std::string const& text) {
  return std::regex_replace(text, std::regex("(\\s|│)+"), " ");
}

class Shipped : public testing::TestWithParam<std::filesystem::path> {};

TEST_P(Shipped, HasOneReleaseInAnswerDocumentAndPage) {
  auto const c = io::load_case(GetParam(), {{models}});
  auto const a = decide::answer(c);
  auto const p = page_of(c, a);
  auto const document = io::answer_json(c, a)["answer"], shown = io::page_json(p);
  auto const words = text(p);
  EXPECT_EQ(document["headline"], a.decision.headline);
  EXPECT_EQ(shown["headline"], a.decision.headline);
  EXPECT_EQ(shown["status"], document["status"]);
  EXPECT_EQ(shown["reasons"], document["reasons"]);
  EXPECT_THAT(unwrapped(words), HasSubstr(a.decision.headline));
  auto const& out = row(p, "BLADDER OUT");
  if (a.decision.release_time) {
    EXPECT_DOUBLE_EQ(document["release_min"].get<double>(), *a.decision.release_time / 60.0);
    EXPECT_EQ(out.time, decide::duration_alone(*a.decision.release_time, true));
    EXPECT_THAT(p.headline, HasSubstr(decide::duration(*a.decision.release_time, true)));
    EXPECT_EQ(out.mark, Mark::key);
  } else {
    EXPECT_TRUE(document["release_min"].is_null());
    EXPECT_EQ(out.time, "NOT TO BE PLANNED");
    EXPECT_EQ(out.mark, Mark::bad);
  }
  // Nothing of the page is lost in plain text, and nothing of the verdict on the page.
  for (auto const& r : p.rows) {
    for (auto const& part : {r.name, r.time, r.likely}) EXPECT_THAT(words, HasSubstr(part));
  }
  for (auto const& line : {p.title, p.at_any_job, p.numerics, p.ranges, p.defaults, p.solver}) {
    EXPECT_THAT(unwrapped(words), HasSubstr(line));
  }
  for (auto const& f : p.facts) EXPECT_THAT(unwrapped(words), HasSubstr(f.name + " " + f.value));
  for (auto const& caution : a.prediction.verdict.cautions) {
    auto const few = std::string(process::in_short(caution.code));
    EXPECT_THAT(unwrapped(words), HasSubstr(few.empty() ? caution.text : few));
  }
}

INSTANTIATE_TEST_SUITE_P(All, Shipped, testing::ValuesIn(shipped()),
                         [](auto const& info) { return info.param.stem().string(); });

TEST(Page, RoundsItsRangesOutward) {
  constexpr double minute = 60.0;
  std::vector<std::tuple<double, double, std::string>> const cases{
      {42.7, 69.3, "42 min to 1 h 10"},   {28.7, 55.3, "28 to 56 min"},
      {6.64, 8.01, "6.6 to 8.1 min"},     {-5.6, -2.8, "-5.6 to -2.8 min"},
      {-5.6, 26.4, "-6 to 27 min"},       {60.0, 60.0, "1 h"},
      {855.0, never, "14 h 15 to later"}, {never, never, "later"}};
  for (auto const& [low, high, words] : cases) {
    EXPECT_EQ(range({low * minute, low * minute, high * minute}, "later"), words);
  }
}

/// "1 h 05", "12 min" or "12" as minutes.
double minutes_of(std::string const& words) {
  auto const h = words.find(" h");
  if (h == std::string::npos) return std::stod(words);
  return 60.0 * std::stod(words) + (h + 2 < words.size() ? std::stod(words.substr(h + 2)) : 0.0);
}

TEST(Page, NeverMakesARangeNarrower) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> exponent(-1.0, 5.0);
  for (int i = 0; i < 2000; ++i) {
    double low = std::pow(10.0, exponent(random)), high = std::pow(10.0, exponent(random));
    if (low > high) std::swap(low, high);
    auto const words = range({60.0 * low, 60.0 * low, 60.0 * high}, "later");
    auto const between = words.find(" to ");
    double const first = minutes_of(words.substr(0, between));
    double const last =
        between == std::string::npos ? first : minutes_of(words.substr(between + 4));
    EXPECT_LE(first, low + 1e-5) << words;
    EXPECT_GE(first, low - 1.0 - 1e-5) << words;
    EXPECT_GE(last, high - 1e-5) << words;
    EXPECT_LE(last, high + 1.0 + 1e-5) << words;
  }
}

TEST(Page, RoundsNumericalErrorsUp) {
  EXPECT_EQ(plus_minus(0.0), "± 1 s");
  EXPECT_EQ(number(up(-0.5)), "0");
  EXPECT_EQ(plus_minus(12.2), "± 13 s");
  EXPECT_EQ(plus_minus(61.0), "± 1.1 min");
  EXPECT_EQ(plus_minus(600.1), "± 11 min");
}

TEST(Page, SaysLatenessAndWhatEndsTheWork) {
  auto c = cold();
  std::get<process::WetOut>(c.stages[1]).duration = 90.0 * 60.0;
  auto const a = point_answer(c);
  auto const p = page_of(c, a);
  EXPECT_EQ(p.status, decide::Status::stop);
  EXPECT_THAT(row(p, "Working margin").time, HasSubstr("TOO LATE"));
  EXPECT_EQ(row(p, "Working margin").mark, Mark::bad);
  EXPECT_EQ(row(p, "BLADDER OUT").time, "NOT TO BE PLANNED");
  ASSERT_FALSE(p.reasons.empty());
  EXPECT_THAT(unwrapped(text(p)), HasSubstr("1. The resin passes its working limit"));
  // Said once.
  for (auto const& caution : p.cautions) {
    for (auto const& reason : p.reasons) EXPECT_NE(caution.text, reason.text);
  }
}

TEST(Page, SaysThatThereAreNoRanges) {
  auto const c = cold();
  auto const p = page_of(c, point_answer(c));
  EXPECT_FALSE(p.ranged);
  EXPECT_THAT(p.ranges, HasSubstr("A point estimate"));
  for (auto const& r : p.rows) EXPECT_EQ(r.likely, "");
  EXPECT_THAT(row(p, "BLADDER OUT").why, HasSubstr("1.25 × the time above"));
  EXPECT_EQ(text(p).find(p.headings.likely), std::string::npos);
}

TEST(Page, TakesNameAndChangesFromItsCaller) {
  auto c = cold();
  c.title.clear();
  auto const p = page_of(c, point_answer(c), {"job.json", "ground.temperature_C = 9"});
  EXPECT_EQ(p.title, "job.json");
  EXPECT_EQ(fact(p, "Changed"), "ground.temperature_C = 9");
}

TEST(Page, DescribesSections) {
  auto c = io::load_case(models / "cases" / "standing_water_invert.json", {{models}});
  EXPECT_EQ(describe(*c.section, c),
            "around the pipe: liner 4 to 6 mm, water 30 mm deep at the invert, 6 °C, ground warmer "
            "by 0 to 3 K");
  EXPECT_EQ(describe(process::PipeSection{}, c), "around the pipe, nothing differs");
  process::PipeSection along;
  along.kind = heat::Section::along;
  along.length = 0.5;
  along.bare_pipe = 0.05;
  along.bare_gap = process::Stretch{0.35, 0.37};
  EXPECT_EQ(describe(along, c),
            "along the pipe: 500 mm of liner, 50 mm of bare pipe before it, no liner from 350 to "
            "370 mm");
  along.bare_gap.reset();
  along.open_to_soil = process::Stretch{0.2, 0.3};
  EXPECT_EQ(describe(along, c),
            "along the pipe: 500 mm of liner, 50 mm of bare pipe before it, no pipe wall from 200 "
            "to 300 mm");
}

TEST(Page, NamesPlacesInTheWordsOfTheField) {
  process::Point p;
  p.layer = "mixed mass";
  p.position = "whole mass";
  EXPECT_EQ(place(p), "resin in the bucket");
  p.layer = "liner";
  p.position = "outer face";
  EXPECT_EQ(place(p), "liner outer face");
  p.angle = 0.0;
  p.clock = "6 o'clock";
  EXPECT_EQ(place(p), "liner outer face, 6 o'clock");
  p.angle.reset();
  p.distance = 0.2504;
  EXPECT_EQ(place(p), "liner outer face, 250 mm along");
}

TEST(Page, MarksARowWithoutRelease) {
  auto c = cold();
  c.release.by = process::ReleaseBy::conversion;
  c.release.alpha_min = 0.97;
  auto const p = page_of(c, point_answer(c));
  EXPECT_EQ(row(p, "Criterion met").time, "NEVER: vitrified");
  EXPECT_EQ(row(p, "Criterion met").mark, Mark::bad);
}

TEST(Page, SaysWhoSetTheCriterionAndMindsOneThatIsWeaker) {
  auto const reasons = [](process::Case const& c) {
    auto const p = page_of(c, point_answer(c));
    std::string text;
    for (auto const& reason : p.reasons) text += reason.code + ": " + reason.text + "\n";
    for (auto const& caution : p.cautions) text += "(" + caution.code + ": " + caution.text + ")\n";
    return text;
  };
  auto c = cold();
  EXPECT_THAT(reasons(c), Not(HasSubstr("criterion_")));  // the usual words have it
  c.release.bears.factor = 1.5;
  EXPECT_THAT(reasons(c), HasSubstr("criterion_weakened: The case asks less of the release than "
                                    "this library does: 1.5 instead of 2 times the load."));
  c = cold();
  c.release.by = process::ReleaseBy::conversion;
  c.release.alpha_min = c.resin.release_alpha_min;
  c.release.Tg_margin = c.resin.release_Tg_margin;
  EXPECT_THAT(reasons(c), HasSubstr("(criterion_of_case: The case set the release criterion, not "
                                    "this library: "));
  EXPECT_THAT(reasons(c), Not(HasSubstr("criterion_weakened")));
  c.release.alpha_min = c.resin.release_alpha_min - 0.1;
  EXPECT_THAT(reasons(c),
              HasSubstr("criterion_weakened: The case asks less of the release than the "
                        "resin's model does: "));
  auto const a = point_answer(c);
  EXPECT_NE(a.decision.status, decide::Status::ok);
}

TEST(Page, SaysWhatTheReleaseNeedsByTheKindOfEachNeed) {
  process::ReleaseNeeds asked;
  asked.needs = {{"cured", 0.755}, {"glassy", 0.0, 12.0}};
  EXPECT_EQ(needs(asked), "needs: cured (≥ 75.5 %), glassy (Tg ≥ T+12 K)");
  asked.needs = {{"groundwater", 0.0, 8.4, 1.5e9}, {"own weight", 0.0, 8.4, 3.456e7}};
  EXPECT_EQ(needs(asked),
            "needs: groundwater (1500 MPa: Tg ≥ T+8 K), own weight (34.6 MPa: Tg ≥ T+8 K)");
}

TEST(Page, HasAFewWordsForKnownCautionsOnly) {
  EXPECT_THAT(std::string(process::in_short("styrene")), HasSubstr("no sparks"));
  EXPECT_EQ(process::in_short("model_estimated"), "");
  EXPECT_EQ(process::in_short("liner_too_hot"), "");
  auto const c = cold();
  auto const a = point_answer(c);
  auto const p = page_of(c, a);
  EXPECT_EQ(p.reasons.size() + p.cautions.size() + p.usual.size(),
            a.prediction.verdict.cautions.size());
}

TEST(Text, KeepsToItsWidth) {
  auto c = cold();
  c.title = "Straße 管 " + std::string(150, 'x') + " e\u0301e\u0301e\u0301";
  auto const p = page_of(c, decide::answer(c));
  for (std::size_t const width : {60U, 75U, 76U, 80U, 100U, 200U}) {
    auto const whole = text(p, {.width = width});
    std::string_view rest = whole;
    while (!rest.empty()) {
      auto const end = rest.find('\n');
      ASSERT_NE(end, std::string_view::npos);
      EXPECT_LE(columns(rest.substr(0, end)), width) << rest.substr(0, end);
      EXPECT_FALSE(end > 0 && rest[end - 1] == ' ');
      rest.remove_prefix(end + 1);
    }
    EXPECT_THAT(unwrapped(whole), HasSubstr(p.headline));
  }
  EXPECT_THROW(text(p, {.width = 59}), InputError);
  EXPECT_THROW(text(p, {.width = 1001}), InputError);
}

/// Without select graphic rendition (ECMA-48, 8.3.117).
std::string uncoloured(std::string const& text) {
  return std::regex_replace(text, std::regex("\x1b\\[[0-9;]*m"), "");
}

TEST(Text, ColoursChangeNoLetter) {
  for (auto const* file : {"cold_ground_winter.json", "hot_packer_summer.json"}) {
    auto const c = io::load_case(models / "cases" / file, {{models}});
    auto const p = page_of(c, decide::answer(c));
    auto const inked = text(p, {.colours = true});
    EXPECT_EQ(uncoloured(inked), text(p));
    // The decision stands in the colour of its status, green, yellow or red (ECMA-48: 32, 33, 31).
    std::string const code = p.status == decide::Status::ok     ? "32"
                             : p.status == decide::Status::wait ? "33"
                                                                : "31";
    auto const first = p.headline.substr(0, p.headline.find(' '));
    EXPECT_THAT(inked, HasSubstr("\x1b[1;" + code + "m" + first));
  }
}

TEST(Text, SpellsItsLettersForAsciiTerminals) {
  auto const c = cold();
  auto const whole = text(page_of(c, decide::answer(c)), {.width = 76, .ascii = true});
  EXPECT_TRUE(std::all_of(whole.begin(), whole.end(),
                          [](char letter) { return static_cast<unsigned char>(letter) < 0x80; }));
  EXPECT_THAT(whole, HasSubstr("Tg >= T+"));
  EXPECT_EQ(in_ascii("±2 K, 管"), "+-2 K, 管");
}

TEST(Text, CountsColumnsAndNotBytes) {
  EXPECT_EQ(columns("20 °C ≥ α"), 9U);
  EXPECT_EQ(columns("e\u0301"), 1U);
  EXPECT_EQ(columns("管道"), 4U);
  EXPECT_EQ(wrapped("ä ö ü", 3), (std::vector<std::string>{"ä ö", "ü"}));
  EXPECT_EQ(wrapped("管道管", 4), (std::vector<std::string>{"管道", "管"}));
  EXPECT_EQ(wrapped("", 4), (std::vector<std::string>{""}));
}

TEST(Text, LetsNoControlsOrBrokenBytesThrough) {
  EXPECT_EQ(one_line("a\nb\x1b[31m\x7f"), "a\\x0ab\\x1b[31m\\x7f");
  EXPECT_EQ(one_line("a\u202Eb\u0085"), "a\\u202eb\\x85");
  EXPECT_EQ(one_line("\xff\xc0\xaf ü"), "\uFFFD\uFFFD\uFFFD ü");
  EXPECT_EQ(one_line("\xe2\x82"), "\uFFFD\uFFFD");
}

}  // namespace
}  // namespace cure::page
