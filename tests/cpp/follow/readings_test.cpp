#include "cure/io/readings_file.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>

#include "cure/io/csv_table.hpp"

namespace cure::io {
namespace {

using testing::ElementsAre, testing::StartsWith;

InputError error_of(std::string const& text) {
  try {
    parse_readings(text, "log.csv");
  } catch (InputError const& e) {
    return e;
  }
  ADD_FAILURE() << "no error";
  return {"", "", ""};
}

TEST(Readings, AreInTheUnitsOfTheirHeading) {
  for (std::string const text : {
           "time_min,temperature_C\n20,7.5\n21,\n22,8\n",
           "Zeit;time [min];Temp. (°C)\n0;20;7,5\n0;21;---\n0;22;8,0\n",
           "# a note\n\ntime_s\ttemperature_F\n1200\t45,5\n1260\tOL\n1320\t46,4\n",
           "TIME "
           "(h),Temperature/K\n0.3333333333333333,280.65\n0.35,NaN\n0.36666666666666664,281.15\n",
           "t/min,temp degC\r\n+20,7.5\r\n21,0x7\r\n22,8e0\r\n",
       }) {
    auto const r = parse_readings(text, "log.csv");
    ASSERT_EQ(r.size(), 3u) << text;
    EXPECT_NEAR(r.time(0), 1200.0, 1e-9) << text;
    EXPECT_NEAR(r.time(1), 1260.0, 1e-9) << text;
    EXPECT_NEAR(r.time(2), 1320.0, 1e-9) << text;
    EXPECT_NEAR(r.temperature(0), 280.65, 1e-9) << text;
    EXPECT_TRUE(std::isnan(r.temperature(1))) << text;
    EXPECT_NEAR(r.temperature(2), 281.15, 1e-9) << text;
  }
}

TEST(Readings, TakeTheUnitsThatLoggersWrite) {
  for (auto const& [unit, minute] : {std::pair{"min", 1.0},
                                     {"mins", 1.0},
                                     {"minutes", 1.0},
                                     {"s", 60.0},
                                     {"sec", 60.0},
                                     {"seconds", 60.0},
                                     {"h", 1.0 / 60.0},
                                     {"hours", 1.0 / 60.0},
                                     {"Std", 1.0 / 60.0}}) {
    auto const r =
        parse_readings("time (" + std::string(unit) + "),T (C)\n" + std::to_string(90.0 * minute) +
                           ",7\n" + std::to_string(180.0 * minute) + ",8\n",
                       "log.csv");
    EXPECT_NEAR(r.time(0), 5400.0, 1e-2) << unit;
  }
  for (auto const& [unit, freezing, boiling] : {std::tuple{"C", 0.0, 100.0},
                                                {"celsius", 0.0, 100.0},
                                                {"℃", 0.0, 100.0},
                                                {"F", 32.0, 212.0},
                                                {"Fahrenheit", 32.0, 212.0},
                                                {"℉", 32.0, 212.0},
                                                {"K", 273.15, 373.15},
                                                {"kelvin", 273.15, 373.15}}) {
    auto const r =
        parse_readings("time (min),T (" + std::string(unit) + ")\n1," + std::to_string(freezing) +
                           "\n2," + std::to_string(boiling) + "\n",
                       "log.csv");
    EXPECT_NEAR(r.temperature(0), 273.15, 1e-9) << unit;
    EXPECT_NEAR(r.temperature(1), 373.15, 1e-9) << unit;
  }
}

TEST(Readings, RefuseWhatIsNoLogByOneClearError) {
  EXPECT_EQ(error_of("").field(), "file");
  EXPECT_EQ(error_of("time_min,pressure\n1,2\n").value(),
            "no column for it in \"time_min,pressure\"");
  EXPECT_EQ(error_of("time_min,temperature_R\n1,2\n").field(), "column \"temperature_R\"");
  EXPECT_EQ(error_of("time,temperature_C\n1,2\n").value(), "unit \"\"");
  EXPECT_EQ(error_of("time_min,temperature_C,temp_C\n1,2,3\n").value(),
            "2 columns: 1 \"temperature_C\", 2 \"temp_C\"");
  EXPECT_EQ(error_of("time_min,temperature_C\n1,warm\n2,\n").value(), "2 without a number");
  EXPECT_EQ(error_of("time_min,\"temperature_C\n1,2\n").allowed(), "a heading whose quotes close");
  EXPECT_EQ(error_of("timing,temperature_C\n1,2\n").file(), "log.csv");
}

TEST(Readings, LeaveOutDamagedLinesAndACutLastOne) {
  auto const r = parse_readings("time_min,temperature_C\n1,2\n2,\"3\n3,\"4\"\n4,5\"\n5,\"6\"x\n6,7",
                                "log.csv");
  EXPECT_EQ(r.size(), 2u);
  EXPECT_THAT(r.left_out, ElementsAre("Lines 3, 5, 6 cannot be read (a stray quote); not used.",
                                      StartsWith("Line 7, the last one, has no line end")));
}

TEST(Readings, TakeTimesOfDayFromTheMomentOfMixing) {
  for (std::string const text : {
           "Time,CH1 [°C],CH2 [°C]\n23:50,7,1\n00:10:00.5,8,2\n",
           "Logger;7\nDatum;Uhrzeit;CH1 (°C);CH2 "
           "(°C)\n5.6.2026;23:50;7,0;1\n6.6.2026;0:10:00,5;8;2\n",
           "Date Time,CH1_C,CH2_C\n5/6/26 11:50 PM,7,1\n6/6/26 12:10:00.5 am,8,2\n",
           "timestamp\tch1 degC\tch2 degC\n2026-06-05T23:50Z\t7\t1\n2026-06-06T00:10:00.5Z\t8\t2\n",
       }) {
    auto const r = parse_readings(text, "log.csv", {.channel = "ch1", .mixed_at = "23:30"});
    ASSERT_EQ(r.size(), 2u) << text;
    EXPECT_NEAR(r.time(0), 1200.0, 1e-6) << text;
    EXPECT_NEAR(r.time(1), 2400.5, 1e-6) << text;
    EXPECT_NEAR(r.temperature(1), 281.15, 1e-9) << text;
  }
  EXPECT_FALSE(stamp_of("24:00") || stamp_of("7:5") || stamp_of("13:00 pm") || stamp_of("5.6") ||
               stamp_of("7.5") || stamp_of("") || stamp_of("5.6.2026 x"));
}

TEST(LogText, IsReadInTheEncodingsOfLoggers) {
  using namespace std::string_view_literals;
  EXPECT_EQ(utf8_of("\xFF\xFE"
                    "a\0\xB0\0\x3D\xD8\x00\xDE"sv),
            "a°😀");
  EXPECT_EQ(utf8_of("\0t\0i\0m"sv), "tim");
  EXPECT_EQ(utf8_of("t\0i\0m\0e"sv), "tim");
  EXPECT_EQ(utf8_of("\xB0"
                    "C ü"),
            "°C ü");
  EXPECT_EQ(utf8_of("7 \xC2"), "7 ");
  EXPECT_EQ(utf8_of("7 \xC2 8"), "7 Â 8");
}

TEST(CsvTable, TakesLineEndsOfAnyKindAndQuotes) {
  for (std::string const end : {"\n", "\r\n", "\r"}) {
    auto const t = parse_table("# a note" + end + "time_min,\"say \"\"x\"\", y\"" + end +
                                   "1,\"2\"" + end + end + "3,4" + end,
                               "rows", "a.csv");
    EXPECT_THAT(t.heading, ElementsAre("time_min", "say \"x\", y"));
    EXPECT_THAT(t.rows, ElementsAre(ElementsAre("1", "2"), ElementsAre("3", "4")));
    EXPECT_THAT(t.lines, ElementsAre(3u, 5u));
    EXPECT_TRUE(t.left_out().empty());
  }
}

TEST(Readings, AreReadFromFilesThatAreThere) {
  EXPECT_THROW(text_of("/nowhere/log.csv"), InputError);
  auto const path = std::filesystem::temp_directory_path() / "libcure_not_text.csv";
  std::ofstream(path, std::ios::binary) << "time_min,temperature_\xB0"
                                        << "C\n1,2\n";
  EXPECT_EQ(read_readings(path).size(), 1u);
  std::ofstream(path, std::ios::binary) << "\xEF\xBB\xBFtime_min,temperature_C\n1,2\n";
  EXPECT_EQ(read_readings(path).size(), 1u);
  std::filesystem::remove(path);
}

}  // namespace
}  // namespace cure::io
