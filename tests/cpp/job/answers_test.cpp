#include "cure/job/answers.hpp"

#include <gtest/gtest.h>

#include <string>
#include <utility>
#include <variant>

namespace cure::job {
namespace {

Said said(char const* key, char const* text, bool us = false) {
  return understood(fact_named(key), text, {us, key, {"amine-fast", "amine-slow", "ester"}});
}
double number(char const* key, char const* text, bool us = false) {
  return std::get<double>(said(key, text, us).value);
}

TEST(JobAnswers, NumbersAreReadHoweverTheyAreWritten) {
  EXPECT_DOUBLE_EQ(number("wall", " 6,5 \u00b0C"), 6.5);
  EXPECT_DOUBLE_EQ(number("wall", "50 deg F"), 10.0);
  EXPECT_DOUBLE_EQ(number("wall", "50", true), 10.0);
  EXPECT_DOUBLE_EQ(number("bore", "6\""), 152.4);
  EXPECT_DOUBLE_EQ(number("depth", "4", true), 1219.2);
  EXPECT_DOUBLE_EQ(number("in_place", "1 h 20"), 80.0);
  EXPECT_DOUBLE_EQ(number("mixed_at", "2:05 pm"), 845.0);
}

TEST(JobAnswers, NotKnownIsNoValue) {
  for (auto const* text : {"", "?", "don't know", "Don\u2019t know.", "no idea"}) {
    EXPECT_TRUE(std::holds_alternative<std::monostate>(said("wall", text).value)) << text;
  }
}

TEST(JobAnswers, WordsMayBeCutWhereOneIsMeant) {
  EXPECT_EQ(std::get<std::string>(said("pipe", "Cast").value), "cast iron");
  EXPECT_EQ(std::get<std::string>(said("resin", "SLOW").value), "amine-slow");
  EXPECT_EQ(std::get<std::string>(said("resin", "own/resin.json").value), "own/resin.json");
  EXPECT_THROW(said("resin", "amine"), InputError);
  EXPECT_THROW(said("water", "d"), InputError);
}

TEST(JobAnswers, TwoNumbersOfHotWaterAndOfAFill) {
  EXPECT_EQ((std::get<std::pair<double, double>>(said("hot_water", "45 C, 10 min ago").value)),
            std::pair(45.0, 10.0));
  EXPECT_EQ((std::get<std::pair<double, double>>(said("fill", "water 35 C").value)),
            std::pair(35.0, 300.0));
  EXPECT_EQ((std::get<std::pair<double, double>>(said("fill", "20 C").value)),
            std::pair(20.0, 10.0));
}

TEST(JobAnswers, WhatCannotBeIsRefusedWithWhatCan) {
  std::pair<char const*, char const*> const bad[] = {
      {"wall", "90 C"},  {"wall", "mild"},    {"wall", "10 K"},      {"wall", "50"},
      {"bore", "6"},     {"mixed_at", "9"},   {"mixed_at", "24:00"}, {"in_place", "1:75"},
      {"fill", "steam"}, {"hot_water", "45"}, {"packer", "in bed"}};
  for (auto const& [key, text] : bad) {
    try {
      said(key, text);
      ADD_FAILURE() << key << " " << text;
    } catch (InputError const& e) {
      EXPECT_EQ(e.field(), key);
      EXPECT_NE(e.value().find(text), std::string::npos);
      EXPECT_FALSE(e.allowed().empty());
    }
  }
}

TEST(JobWords, MomentsByTheClockAreRoundedToTheConservativeSide) {
  EXPECT_EQ(clock_words(552.2, false), "09:12");
  EXPECT_EQ(clock_words(552.2, true), "09:13");
  EXPECT_EQ(clock_words(1440.0 + 190.0, true), "03:10 next day");
  EXPECT_EQ(clock_words(2.0 * 1440.0 + 190.0, true), "03:10, 2 days later");
}

}  // namespace
}  // namespace cure::job
