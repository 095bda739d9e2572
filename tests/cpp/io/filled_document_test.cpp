// Documents by their tables: what is refused, with path, value and what is allowed, and what is
// filled in.
#include "cure/io/filled_document.hpp"

#include <gtest/gtest.h>

#include <string>

#include "cure/io/plain_fields.hpp"
#include "cure/io/schema.hpp"

namespace {

using namespace cure;
using namespace cure::io;
namespace p = cure::io::plain;

constexpr char const* colours[] = {"green", "blue"};
constexpr p::F leaf_fields[] = {p::whole("size", {.low = 1.0, .high = 9.0}),
                                p::number("lag", {.low = 0.0}).or_number(3.0, "a guess")};
constexpr p::Keys leaf{leaf_fields};
constexpr p::F trunk_fields[] = {p::text("bark").or_word("rough")};
constexpr p::Keys trunk{trunk_fields};
constexpr Shape leaves{.object = &leaf, .list = 1, .least = 1, .most = 2};
constexpr Shape spelled_out{.text = true};
constexpr p::Keys by_name = p::others(p::anything);
constexpr p::F tree_fields[] = {
    p::word("colour", colours).or_word("green"),
    p::number("height", {.low = 0.0, .high = 5.0, .above = true}).unless_given("girth"),
    p::number("girth").optional(),
    p::flag("old").or_word("true"),
    p::object_or_empty("trunk", trunk),
    p::or_else(p::word("leaves", colours), leaves).optional(),
    p::list(p::number("rings", {.low = 1.0}), 0, 3).elements(0, 3, true).optional(),
    p::number("moss").only_with("girth", "").optional(),
    p::field("power", {.number = true,
                       .range = {.low = 2.0, .high = 64.0},
                       .multiple_of = 1,
                       .power_of_two = true})
        .optional(),
    p::field("id", {.text = true, .pattern = "^[a-z]+$", .allowed = "small letters"}).optional(),
    p::number("gap").or_null().optional(),
    p::or_else(p::list(p::number("spans", {.low = 0.0}), 1, 3), spelled_out).optional(),
    p::object("names", by_name).optional()};
constexpr p::Keys tree = p::Keys(tree_fields).with_comments();

Json filled(char const* text) { return filled_document(tree, Json::parse(text), "tree.json"); }

std::string refused(char const* text) {
  try {
    filled(text);
  } catch (InputError const& e) {
    EXPECT_EQ(e.file(), "tree.json");
    return e.field() + ": " + e.value() + "; " + e.allowed();
  }
  return "taken";
}

TEST(FilledDocument, FillsInWhatWasLeftOut) {
  EXPECT_EQ(filled(R"({"height": 2, "// why": "no reason"})"),
            Json::parse(R"({"colour": "green", "height": 2.0, "old": true,
                            "trunk": {"bark": "rough"}})"));
  auto const d = filled(R"({"girth": 1, "moss": 2, "gap": null, "leaves": [{"size": 3.0}],
                            "rings": [1, 2], "power": 16, "id": "oak", "names": {"a": [1]}})");
  EXPECT_EQ(d["leaves"], Json::parse(R"([{"size": 3, "lag": 3.0}])"));
  EXPECT_TRUE(d["leaves"][0]["size"].is_number_integer());
  EXPECT_TRUE(d["gap"].is_null());
  EXPECT_EQ(d["names"], Json::parse(R"({"a": [1]})"));
}

TEST(FilledDocument, NamesPathValueAndWhatIsAllowed) {
  EXPECT_EQ(refused(R"({"height": 6})"), "height: 6; a number, above 0, at most 5");
  EXPECT_EQ(refused(R"({"height": "6"})"), "height: \"6\"; a number, above 0, at most 5");
  EXPECT_EQ(refused("{}"), "height: missing; a number, above 0, at most 5, or girth instead");
  EXPECT_EQ(refused(R"({"height": 1, "girth": 1})"), "height: given; not together with girth");
  EXPECT_EQ(refused(R"({"height": 1, "moss": 1})"), "moss: given; only with girth");
  EXPECT_EQ(refused(R"({"height": 1, "colour": "bleu"})"),
            "colour: \"bleu\"; one of green, blue; did you mean \"blue\"?");
  EXPECT_EQ(refused(R"({"height": 1, "colr": 1})"), "colr: unknown key; did you mean \"colour\"?");
  EXPECT_EQ(refused(R"({"height": 1, "leaves": []})"),
            "leaves: 0 of them; a list of 1 to 2, each an object {...}");
  EXPECT_EQ(refused(R"({"height": 1, "leaves": [{"size": 1}, {"size": 2.5}]})"),
            "leaves[1].size: 2.5; a whole number, 1 to 9");
  EXPECT_EQ(refused(R"({"height": 1, "leaves": 3})"),
            "leaves: 3; one of green, blue, or a list of 1 to 2, each an object {...}");
  EXPECT_EQ(refused(R"({"height": 1, "spans": true})"),
            "spans: true; a list of 1 to 3, each a number, at least 0, or a text");
  EXPECT_EQ(refused(R"({"height": 1, "rings": [1, 2, 1]})"), "rings[2]: 1; each once");
  EXPECT_EQ(refused(R"({"height": 1, "power": 48})"), "power: 48; a power of two, 2 to 64");
  EXPECT_EQ(refused(R"({"height": 1, "id": "Oak"})"), "id: \"Oak\"; small letters");
  EXPECT_EQ(refused(R"({"height": 1, "trunk": {"bark": " "}})"), "trunk.bark: \" \"; a text");
  EXPECT_EQ(refused(R"({"height": null})"), "height: null; a number, above 0, at most 5");
  EXPECT_EQ(refused("[]"), "document: an empty list; an object {...}");
}

TEST(FilledDocument, SchemaSaysTheSame) {
  auto const s = Json::parse(SchemaWriter().write(tree, "tree").dump());
  auto const& k = s["properties"];
  EXPECT_EQ(k["power"]["enum"], Json::parse("[2, 4, 8, 16, 32, 64]"));
  EXPECT_EQ(k["gap"]["type"], Json::parse(R"(["number", "null"])"));
  EXPECT_EQ(k["leaves"]["anyOf"][1]["maxItems"], 2);
  EXPECT_EQ(k["leaves"]["anyOf"][1]["items"]["required"], Json::parse(R"(["size"])"));
  EXPECT_EQ(k["names"]["additionalProperties"], Json::object());
  EXPECT_EQ(k["colour"]["description"], "Default: green.");
  EXPECT_EQ(s["patternProperties"].size(), 1u);
}

}  // namespace
