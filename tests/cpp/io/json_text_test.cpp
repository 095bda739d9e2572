// Text that is JSON, and yet no document of ours.
#include "cure/io/json_text.hpp"

#include <gtest/gtest.h>

#include <string>

namespace {

using namespace cure;
using namespace cure::io;

std::string refused(std::string const& text) {
  try {
    parse(text, "a.json");
  } catch (InputError const& e) {
    EXPECT_EQ(e.file(), "a.json");
    return e.field() + ": " + e.value();
  }
  return "taken";
}

TEST(JsonText, RefusesNumbersOfASizeThatNoQuantityHasByTheirPath) {
  EXPECT_EQ(refused(R"({"pipe": {"wall_mm": 1e308}})"), "pipe.wall_mm: 1e308");
  EXPECT_EQ(refused(R"({"pipe": {"a": [], "wall_mm": -1e101}})"), "pipe.wall_mm: -1e101");
  EXPECT_EQ(refused(R"([1, [2, 3], {"a": [0, 5e-324]}, 1e300])"), "[2].a[1]: 5e-324");
  EXPECT_EQ(refused(R"({"a": [{"b": 1}, {"b": -1e-300}]})"), "a[1].b: -1e-300");
  EXPECT_EQ(refused("1" + std::string(101, '0')), "document: 1" + std::string(101, '0'));
  // Too small for a double: it would be read as zero.
  EXPECT_EQ(refused(R"({"a": 1e-400})"), "a: 1e-400");
  EXPECT_EQ(refused(R"({"a": 0.0001e-320})"), "a: 0.0001e-320");
}

TEST(JsonText, MakesTheDocumentThatTheParserOfTheLibraryMakes) {
  for (
      std::string const text :
      {"null", "-7", R"("a")", "[]", "{}",
       R"({"b": [true, {"": []}, [[1.5, "x"], null]], "a": {}})",
       R"([18446744073709551615, -9223372036854775808, 0.1, "\u00e9\n", false, {"k": {"k": 1}}])"}) {
    auto const wanted = Json::parse(text), found = parse(text, "a.json");
    EXPECT_EQ(found, wanted) << text;
    EXPECT_EQ(found.dump(), wanted.dump());
  }
}

TEST(JsonText, TakesNumbersOfEveryUsualSizeAndZero) {
  for (std::string const number : {"0", "-0.0", "0.0e5", "0e-400", "1e100", "-1E+100", "1e-100",
                                   "18446744073709551615", "1e25"}) {
    EXPECT_EQ(refused("[" + number + "]"), "taken") << number;
  }
}

TEST(JsonText, RefusesWhatIsTooLargeForADoubleAsNoJson) {
  EXPECT_NE(refused("[1e400]").find("document: not JSON"), std::string::npos);
}

TEST(JsonText, IsNoDeeperThanADocumentOfOurs) {
  EXPECT_EQ(refused(std::string(32, '[') + std::string(32, ']')), "taken");
  EXPECT_EQ(refused(std::string(33, '[') + std::string(33, ']')),
            "document: nested deeper than 32");
  EXPECT_EQ(refused(R"({"a": {"b": 1, "b": 2}})"), "b: given twice");
}

}  // namespace
