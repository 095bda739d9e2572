#pragma once
/// What a document "libcure/site/1" may hold: what people write down at a job. The front reads it
/// by this table (recording/site.py).

#include "cure/io/plain_fields.hpp"

namespace cure::io::tables {

namespace site {

using namespace plain;

constexpr F time_of_day(char const* key) {
  return field(key, {.text = true, .pattern = "\\S", .allowed = "a time of day such as 9:12"})
      .optional();
}
inline constexpr F event_fields[] = {time_of_day("mixed"), time_of_day("in_place"),
                                     time_of_day("inflated"), time_of_day("released")};
inline constexpr Keys events{event_fields, "Times of day; the others count from that of mixing."};

inline constexpr char const* format_words[] = {"libcure/site/1"};
inline constexpr F fields[] = {
    word("format", format_words),
    field("date", {.text = true,
                   .pattern = "^\\d{4}-\\d{2}-\\d{2}$",
                   .allowed = "a date such as 2026-02-03"}),
    text("job").optional(),
    text("place").optional(),
    text("client").optional(),
    text("crew").optional(),
    text("pipe").optional().means("Pipe and defect."),
    text("resin_batch").optional(),
    text("hardener_batch").optional(),
    text("ratio").optional().means("Of mixing."),
    text("mixed_mass").optional(),
    text("instruments").optional(),
    text("remarks").optional(),
    list(said("decisions"), 0, 40).optional(),
    object("events", events).optional(),
    text("pressure").optional().means("A file beside this one: time_min, pressure_bar.")};

}  // namespace site

inline constexpr plain::Keys site_table{
    site::fields, "What was written down at a job: who, when by the clock, what batch, with what."};

}  // namespace cure::io::tables
