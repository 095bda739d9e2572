#include "cure/io/near_words.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "cure/io/reader.hpp"

namespace cure::io {
namespace {

std::vector<std::string> const materials{
    "pvc", "hdpe", "vitrified-clay", "moist-clay", "reinforced-concrete", "concrete"};

TEST(NearWords, AreThoseWithFewOtherLettersOrThatHaveThePart) {
  EXPECT_EQ(nearest_id("PVC", materials), "pvc");
  EXPECT_EQ(nearest_id("hpde", materials), "hdpe");
  EXPECT_EQ(nearest_id("vitrifed clay", materials), "vitrified-clay");
  EXPECT_EQ(nearest_id("clay", materials), "moist-clay");
  EXPECT_EQ(nearest_id("reinforced", materials), "reinforced-concrete");
  EXPECT_EQ(nearest_id("something else", materials), "");
  EXPECT_EQ(nearest_id("", materials), "");
  EXPECT_EQ(did_you_mean("pvc"), "; did you mean \"pvc\"?");
  EXPECT_EQ(did_you_mean(""), "");
}

TEST(NumberMeant, IsSaidOnlyOfWhatIsANumber) {
  EXPECT_EQ(number_meant("6,5"), "; write 6.5");
  EXPECT_EQ(number_meant("-,5"), "; write -0.5");
  EXPECT_EQ(number_meant(" +6.5"), "; write 6.5 without quotes");
  EXPECT_EQ(number_meant(".8"), "; write 0.8 without quotes");
  for (char const* text : {"", "cold", "6,5 C", "1,2,3", "1.234,5", "nan"}) {
    EXPECT_EQ(number_meant(text), "") << text;
  }
}

TEST(NumberMeant, IsFoundInJson) {
  EXPECT_EQ(number_meant_in("{\"a\": 1, \"b\": 6,5}"), "; write 6.5");
  EXPECT_EQ(number_meant_in("{\"a\": -6,25\n}"), "; write -6.25");
  for (char const* text :
       {"{\"a\": [1,2], \"b\": 6, \"c\": 7}", "{\"a\": 6,}", "{\"a\":", ":", ""}) {
    EXPECT_EQ(number_meant_in(text), "") << text;
  }
  try {
    parse("{\"a\": 6,5}", "case.json");
    ADD_FAILURE();
  } catch (InputError const& e) {
    EXPECT_EQ(e.allowed(), "a JSON document; write 6.5");
  }
}

}  // namespace
}  // namespace cure::io
