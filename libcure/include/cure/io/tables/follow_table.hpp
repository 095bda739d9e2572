#pragma once
/// What "libcure/follow/1" holds: a followed job (follow_file.hpp).

#include "cure/io/tables/shared_table.hpp"

namespace cure::io::tables {

namespace follow {

inline constexpr char const* format_words[] = {"libcure/follow/1"};

inline constexpr char const* at_words[] = {"liner inner face", "liner middle", "liner outer face"};

inline constexpr F readings_fields[] = {
    said("file"), word("at", at_words), whole("rows", {.low = 0.0}), whole("used", {.low = 0.0}),
    number("worth", {.low = 0.0}).means("independent readings that they are worth")};
inline constexpr Keys readings = Keys(readings_fields);

inline constexpr char const* status_words[] = {"may_come_out", "keep_in", "not_on_these_readings",
                                               "no_release"};

inline constexpr char const* now_from_words[] = {"given", "last row"};

inline constexpr F faults_fields[] = {said("code"), said("text"), whole("readings", {.low = 0.0})};
inline constexpr Keys faults = Keys(faults_fields);

inline constexpr F band_fields[] = {
    maybe("p5").means("null is never, or not in two days of holding"),
    maybe("p50").means("null is never, or not in two days of holding"),
    maybe("p95").means("null is never, or not in two days of holding")};
inline constexpr Keys band = Keys(band_fields).named("band");

inline constexpr Shape no_release_share_shape{.number = true, .range = {.low = 0.0, .high = 1.0}};

inline constexpr Keys no_release_share = others(no_release_share_shape);

inline constexpr F times_fields[] = {
    object("working_time_min", band), object("gel_time_last_min", band),
    object("criterion_met_min", band),
    maybe("wait_until_min")
        .means("what to wait for, to the safe side; null is never, or not in two days of holding"),
    object("no_release_share", no_release_share)};
inline constexpr Keys times = Keys(times_fields).named("times");

inline constexpr char const* unit_words[] = {"K", "min", "%", "1"};

inline constexpr F unknowns_fields[] = {
    said("name"),
    said("title"),
    word("unit", unit_words).means("of an offset on the case; %: a share; 1: a factor"),
    object("before", band),
    object("after", band),
    number("moved_sd"),
    number("kept_sd_share", {.low = 0.0}),
    said("range_from")};
inline constexpr Keys unknowns = Keys(unknowns_fields);

inline constexpr F sampling_fields[] = {whole("rows", {.low = 1.0}),
                                        number("effective_rows", {.low = 0.0}),
                                        whole("seed", {.low = 0.0})};
inline constexpr Keys sampling = Keys(sampling_fields);

inline constexpr F fields[] = {
    word("format", format_words),
    said("case"),
    object("readings", readings),
    word("status", status_words)
        .means("not_on_these_readings: they are not relied on, and nothing may be let go by them"),
    number("now_min"),
    word("now_from", now_from_words).means("last row: no better than the logger's clock"),
    maybe("release_min")
        .means("The answer, to the safe side. null is never, or not in two days of holding."),
    maybe("working_time_min").means("5 % side"),
    flag("release_passed").means("true only with readings that are relied on"),
    flag("relied_on")
        .means("false: the answer is the later of the releases with and without the readings"),
    objects("reasons", coded),
    objects("faults", faults),
    list(said("cautions")).means("Urgent ones of the plan itself."),
    list(said("usual_cautions"), 1)
        .means("What to mind at any such job, and what takes precedence."),
    object("before", times),
    object("after", times),
    objects("unknowns", unknowns),
    object("sampling", sampling),
    tables::changes};

}  // namespace follow

inline constexpr plain::Keys follow_table{
    follow::fields,
    "The release of a running job, before the readings of its probe and with them. Times count "
    "from mixing [min]."};

}  // namespace cure::io::tables
