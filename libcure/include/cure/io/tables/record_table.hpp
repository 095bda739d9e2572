#pragma once
/// What a document "libcure/record/1" may hold: a job that was done, its answers and all that they
/// are computed from. The front writes it, and checks it again, by this table
/// (recording/record.py).

#include "cure/io/tables/follow_table.hpp"
#include "cure/io/tables/site_table.hpp"
#include "cure/io/tables/verdict_table.hpp"

namespace cure::io::tables {

namespace record {

/// A document with a schema of its own.
constexpr F whole_document(char const* key, Keys const& table, char const* schema) {
  auto f = object(key, table);
  f.shape.document = schema;
  return f;
}

inline constexpr char const* distribution_words[] = {"normal", "uniform", "lognormal"};

inline constexpr F range_fields[] = {
    said("name"), said("title"),
    list(said("moves"), 1).means("inputs that it moves together, all offsets [K] or all factors"),
    word("distribution", distribution_words),
    number("spread", {.low = 0.0, .above = true})
        .means("standard deviation or half width; of the logarithm for lognormal")};
inline constexpr Keys range{range_fields};
inline constexpr Shape none{.null = true};

inline constexpr F readings_fields[] = {
    word("at", follow::at_words), list(number("time_s")),
    list(number("temperature_K").or_null()).means("null: none at that time")};
inline constexpr Keys readings{readings_fields};

inline constexpr F pressure_fields[] = {list(number("time_min")), list(number("pressure_bar"))};
inline constexpr Keys pressure{pressure_fields};

inline constexpr F inputs_fields[] = {
    object("case", any_object).means("The case as it was planned, whole."),
    or_else(objects("ranges", range), none).means("null: the usual ones"),
    object("readings", readings).or_null(), whole_document("site", site_table, "site.schema.json"),
    object("pressure", pressure).or_null()};
inline constexpr Keys inputs{inputs_fields};

inline constexpr Shape hash{.text = true, .pattern = "^[0-9a-f]{64}$", .allowed = "a SHA-256"};
inline constexpr Keys hashes = others(hash);

inline constexpr char const* event_words[] = {"mixed", "in_place", "inflated", "released"};

inline constexpr F time_fields[] = {word("event", event_words), maybe("planned_min"),
                                    maybe("recommended_min"), maybe("actual_min")};
inline constexpr Keys time{time_fields};

inline constexpr char const* format_words[] = {"libcure/record/1"};
inline constexpr F fields[] = {
    word("format", format_words),
    said("version").means("Of libcure."),
    object("inputs", inputs).means("What the answers are computed from."),
    object("models", hashes).means("SHA-256 of each model file that the case names."),
    whole_document("verdict", verdict_table, "verdict.schema.json"),
    whole_document("follow", follow_table, "follow.schema.json")
        .or_null()
        .means("null without readings"),
    objects("times", time).means("A row an event, from mixing."),
    field("sha256", hash).means("Of the record without this key.")};

}  // namespace record

inline constexpr plain::Keys record_table{
    record::fields,
    "The record of a job: what was planned, answered, read and done, and what it rests on."};

}  // namespace cure::io::tables
