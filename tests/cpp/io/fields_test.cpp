// Tables of fields: what they read, refuse, and say of themselves in schema and reference page.
#include "cure/io/fields.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "cure/io/make_fields.hpp"
#include "cure/io/reference.hpp"
#include "cure/io/schema.hpp"

namespace {

using namespace cure;
using namespace cure::io;

struct Tank {
  double volume = 0.0, fill = 0.0, speed = 0.0, T = 0.0;
  std::size_t blades = 0, shape = 0;
  std::vector<double> parts = {};
  std::vector<std::string> defaults = {};

  void by_default(std::string const& path, std::string const& text) {
    defaults.push_back(path + ": " + text);
  }
};

using F = Of<Tank>;
constexpr Measure litres{"L", 1e-3}, celsius{"°C", 1.0, zero_celsius};
constexpr char const* stirring[] = {"none", "paddle"};

constexpr Field<Tank> part_fields[] = {
    F::number("share", {.low = 0.0, .high = 1.0}, {}, [](Tank& t, double v) { t.fill = v; })};
constexpr Object<Tank> part_table{part_fields, "A part."};

constexpr Field<Tank> box_fields[] = {
    F::number("edge_L", {.low = 0.0, .high = 0.06, .above = true}, litres, [](Tank& t, double v) {
      t.volume = v;
    }).means("Its edge.")};
constexpr Field<Tank> ball_fields[] = {F::number("radius_L", {.low = 0.0, .high = 0.1}, litres,
                                                 [](Tank& t, double v) { t.volume = v; })
                                           .or_number(
                                               [](Tank const& t) {
                                                 return Default{10.0 * t.T, "ten times T"};
                                               },
                                               "ten times T")};
constexpr Object<Tank> box_table{box_fields}, ball_table{ball_fields};
constexpr KindOf<Tank> kinds[] = {{"box", &box_table}, {"ball", &ball_table}};
constexpr Object<Tank> body_table =
    Object<Tank>("kind", kinds, [](Tank& t, std::size_t i) {
      t.shape = i;
    }).first_kind_unless("radius_L", "box, ball where radius_L is given");

constexpr Field<Tank> fields[] = {
    F::number("hot_C", {.low = 213.15, .high = 573.15}, celsius, [](Tank& t, double v) { t.T = v; })
        .instead("cold_C")
        .optional(),
    F::number("cold_C", {.low = 213.15, .high = 573.15}, celsius,
              [](Tank& t, double v) { t.T = v; })
        .unless_given("hot_C"),
    F::word("stirring", stirring, nullptr).or_else("none"),
    F::number("speed", {.low = 0.0, .high = 5.0}, {}, [](Tank& t, double v) { t.speed = v; })
        .only_with("stirring", "paddle"),
    F::whole(
        "blades", {.low = 2.0, .high = 8.0}, [](Tank& t, std::size_t n) { t.blades = n; }, 2)
        .or_else("a pair", [](Reader&, Tank& t) { t.blades = 2; }),
    F::object_or_empty("body", body_table),
    F::objects(
        "parts", part_table, [](Reader&, Tank& t) { t.parts.push_back(t.fill); }, "a part")
        .elements(1, 3)
        .optional(),
    F::check([](Reader& r, Tank& t) {
      if (t.speed > 4.0 && t.blades == 8) r.fail("blades", "8", "fewer at such a speed");
    })};
constexpr Object<Tank> tank_table{fields, "A tank."};

Tank read(char const* text) {
  auto const document = parse(text, "tank.json");
  Tank t;
  Reader r(document, "", "tank.json");
  read_object(tank_table, r, t);
  return t;
}

std::string refusal(char const* text) {
  try {
    read(text);
  } catch (InputError const& e) {
    return e.what();
  }
  return "accepted";
}

TEST(Measure, RangesInAUnitAreAsPeopleWriteThem) {
  constexpr Measure mm{"mm", 1e-3};
  static_assert(mm.of({.low = 0.3e-3, .high = 0.06}).high == 60.0);
  static_assert(mm.of({.low = 0.3e-3, .high = 0.06}).low == 0.3);
  static_assert(celsius.of({.low = 213.15, .high = 573.15}).low == -60.0);
  static_assert(celsius.of({.low = 213.15, .high = 573.15}).high == 300.0);
  constexpr Measure hours{"h", 3600.0};
  EXPECT_EQ(hours.of({.low = 180.0, .high = 3.6e7}).low, 0.05);
  EXPECT_EQ(hours.of({.low = 180.0, .high = 3.6e7}).high, 1e4);
  EXPECT_TRUE(std::isinf(mm.of({.low = 0.0}).high));
  for (double const x : {1.0 / 3.0, -2.0 / 3.0, 123456.789, 7e-9, 0.1 + 0.2}) {
    EXPECT_EQ(Measure::twelve_digits(x), std::stod(shown(x, 12))) << x;
  }
}

TEST(ReadObject, TakesValuesAndWritesDefaultsDown) {
  auto const t = read(R"({"cold_C": 20, "body": {"kind": "box", "edge_L": 30}, "blades": 4,
                          "parts": [{"share": 0.25}, {"share": 0.75}]})");
  EXPECT_EQ(t.T, 20.0 + zero_celsius);
  EXPECT_EQ(t.volume, 0.03);
  EXPECT_EQ(t.blades, 4u);
  EXPECT_EQ(t.parts, (std::vector{0.25, 0.75}));
  EXPECT_TRUE(t.defaults.empty());
  auto const ball = read(R"({"hot_C": -50, "body": {"kind": "ball"}})");
  EXPECT_EQ(ball.shape, 1u);
  EXPECT_EQ(ball.blades, 2u);
}

TEST(ReadObject, DefaultsMayDependOnWhatWasReadBefore) {
  auto const t = read(R"({"hot_C": 26.85, "body": {"kind": "ball"}})");
  EXPECT_DOUBLE_EQ(t.volume, 3.0);
  EXPECT_EQ(t.defaults, std::vector<std::string>{"body.radius_L: 3e+03 (ten times T)"});
}

TEST(ReadObject, AKindThatIsNotSaidFollowsFromAKey) {
  EXPECT_EQ(read(R"({"cold_C": 0, "body": {"radius_L": 5}})").shape, 1u);
  EXPECT_EQ(read(R"({"cold_C": 0, "body": {"edge_L": 5}})").shape, 0u);
}

TEST(ReadObject, RefusesWithPathValueAndWhatIsAllowed) {
  std::string const file = "tank.json: ";
  std::string const body = R"({"cold_C": 0, "body": {"edge_L": 5}, )";
  EXPECT_EQ(refusal(R"({"body": {"edge_L": 5}})"),
            file + "cold_C: missing; allowed: a number, -60 to 300");
  EXPECT_EQ(refusal(R"({"cold_C": 400, "body": {"edge_L": 5}})"),
            file + "cold_C: 400; allowed: -60 to 300");
  EXPECT_EQ(refusal(R"({"cold_C": 0, "hot_C": 0, "body": {"edge_L": 5}})"),
            file + "hot_C: given; allowed: not together with cold_C");
  EXPECT_EQ(refusal((body + R"("speed": 1})").c_str()),
            file + "speed: given; allowed: only with stirring \"paddle\"");
  EXPECT_EQ(refusal((body + R"("stirring": "paddle"})").c_str()),
            file + "speed: missing; allowed: a number, 0 to 5");
  EXPECT_EQ(refusal((body + R"("stirring": "spoon"})").c_str()),
            file + "stirring: \"spoon\"; allowed: one of none, paddle");
  EXPECT_EQ(refusal((body + R"("blades": 3})").c_str()),
            file + "blades: 3; allowed: an even whole number, 2 to 8");
  EXPECT_EQ(refusal((body + R"("parts": []})").c_str()),
            file + "parts: an empty list; allowed: a part");
  EXPECT_EQ(refusal((body + R"("parts": [{"share": 2}]})").c_str()),
            file + "parts[0].share: 2; allowed: 0 to 1");
  EXPECT_EQ(refusal((body + R"("blade": 4})").c_str()),
            file + "blade: unknown key; allowed: did you mean \"blades\"?");
  EXPECT_EQ(refusal(R"({"cold_C": 0, "body": {"kind": "box", "edge_L": 5, "radius_L": 5}})"),
            file + "body.radius_L: unknown key; allowed: one of edge_L, kind");
  EXPECT_EQ(refusal((body + R"("stirring": "paddle", "speed": 5, "blades": 8})").c_str()),
            file + "blades: 8; allowed: fewer at such a speed");
}

TEST(SchemaWriter, SaysWhatTheTableSays) {
  auto const s = SchemaWriter().write(tank_table, "tank");
  EXPECT_EQ(s["title"], "tank");
  EXPECT_FALSE(s.contains("required"));
  EXPECT_EQ(s["additionalProperties"], false);
  auto const& p = s["properties"];
  EXPECT_EQ(p["cold_C"]["minimum"], -60);
  EXPECT_EQ(p["cold_C"]["maximum"], 300);
  EXPECT_EQ(p["cold_C"]["description"], "[°C]");
  EXPECT_EQ(p["blades"]["multipleOf"], 2);
  EXPECT_EQ(p["stirring"]["enum"], (std::vector<std::string>{"none", "paddle"}));
  EXPECT_EQ(p["stirring"]["description"], "Default: none.");
  EXPECT_EQ(p["parts"]["maxItems"], 3);
  EXPECT_EQ(p["parts"]["items"]["required"], std::vector<std::string>{"share"});
  auto const& rules = s["allOf"];
  ASSERT_EQ(rules.size(), 2u);  // cold_C without hot_C; speed only with a paddle
  EXPECT_EQ(rules[0]["else"]["required"], std::vector<std::string>{"cold_C"});
  EXPECT_EQ(rules[1]["then"]["required"], std::vector<std::string>{"speed"});
  EXPECT_EQ(rules[1]["else"]["properties"]["speed"], false);
  auto const& kind = p["body"]["allOf"];
  ASSERT_EQ(kind.size(), 2u);
  EXPECT_EQ(kind[0]["then"]["properties"]["edge_L"]["exclusiveMinimum"], 0);
  EXPECT_EQ(kind[0]["then"]["required"], std::vector<std::string>{"edge_L"});
}

TEST(ReferenceWriter, HasARowForEachKey) {
  auto const page = ReferenceWriter().write(tank_table, "tank");
  for (auto const* row :
       {"| `cold_C` | -60 to 300 °C | required without hot_C | Not together with hot_C. |",
        "| `blades` | an even whole number, 2 to 8 | a pair |  |",
        "| `edge_L` | above 0, at most 60 L | required | Its edge. |",
        "| `radius_L` | 0 to 100 L | ten times T |  |", "### `body`", "### `parts[]`"}) {
    EXPECT_NE(page.find(row), std::string::npos) << row << "\n" << page;
  }
}

}  // namespace
