#pragma once
/// What "libcure/advice/1" holds: what to change in a job (advice_file.hpp).

#include "cure/io/tables/shared_table.hpp"

namespace cure::io::tables {

namespace advice {

inline constexpr char const* format_words[] = {"libcure/advice/1"};

inline constexpr F needs_fields[] = {
    number("working_min"), flag("working_stated"), number("reserve_min"),
    maybe("release_by_min")
        .means("Deadline as stated; null: none, so that a longer hold is a change that counts."),
    number("held_from_min")};
inline constexpr Keys needs = Keys(needs_fields);

inline constexpr F searched_fields[] = {number("coldest_resin_C"), number("hottest_fill_C"),
                                        number("longest_hold_min")};
inline constexpr Keys searched = Keys(searched_fields);

inline constexpr char const* unmet_words[] = {"working", "release", "hot", "model", "reserve"};

inline constexpr F conservative_sides_fields[] = {maybe("latest_in_place_min"),
                                                  maybe("working_min"), maybe("release_min"),
                                                  maybe("peak_temperature_C")};
inline constexpr Keys conservative_sides = Keys(conservative_sides_fields);

inline constexpr F outcome_fields[] = {
    maybe("latest_in_place_min")
        .means("Latest moment at which the liner may be held and is workable, when the wet-out "
               "goes on until then; null: later than longest_wet_out_min."),
    maybe("working_min"),
    maybe("gel_first_min"),
    maybe("gel_last_min"),
    maybe("criterion_met_min"),
    maybe("release_min")
        .means("When the bladder may come out: the number to use, as of the answer of predict; "
               "null where the job must not be done so."),
    maybe("service_min"),
    maybe("held_from_min"),
    maybe("working_margin_min"),
    word("release_state", release_states),
    number("peak_temperature_C"),
    number("peak_time_min"),
    said("peak_place"),
    word("status", status_words).means("As of the answer that predict gives of it."),
    objects("troubles", coded).means("Reasons of the answer that predict gives of it."),
    list(word("unmet", unmet_words))
        .elements(0, 0, true)
        .means("Needs that are not met, where known on the conservative sides too."),
    list(said("wrong")).means("The needs that are not met in a few words each."),
    object("conservative_sides", conservative_sides).or_null()};
inline constexpr Keys outcome = Keys(outcome_fields).named("outcome");

inline constexpr char const* kind_words[] = {
    "resin_temperature", "packer_temperature", "smaller_mix", "spread",  "shade", "wrap",
    "in_place",          "fill_temperature",   "hold",        "hardener"};

inline constexpr F proposals_fields[] = {
    list(word("kind", kind_words), 1),
    said("words"),
    said("said").means("The words as a sentence begins, with what to mind."),
    flag("does_it"),
    object("changes", by_path).means("Value by path in the case document."),
    number("value_C").optional(),
    number("value_min").optional(),
    number("middle_value_C").optional(),
    number("middle_value_min").optional(),
    number("edge_C").optional(),
    number("edge_min").optional(),
    number("works_to_C").optional(),
    number("works_to_min").optional(),
    list(number("searched_C"), 2, 2).optional(),
    list(number("searched_min"), 2, 2).optional(),
    object("outcome", outcome),
    list(said("notes"))};
inline constexpr Keys proposals = Keys(proposals_fields);

inline constexpr F no_value_fields[] = {list(word("kind", kind_words), 1), said("words"),
                                        said("best"), list(number("searched_C"), 2, 2).optional(),
                                        list(number("searched_min"), 2, 2).optional()};
inline constexpr Keys no_value = Keys(no_value_fields);

inline constexpr F hardeners_fields[] = {said("resin"), said("title"), flag("estimated"),
                                         flag("own"), object("outcome", outcome)};
inline constexpr Keys hardeners = Keys(hardeners_fields);

inline constexpr F uncertain_fields[] = {said("ranges"), said("none_because"),
                                         whole("samples", {.low = 0.0}),
                                         list(said("without_constants"))};
inline constexpr Keys uncertain = Keys(uncertain_fields);

inline constexpr F fields[] = {
    word("format", format_words),
    said("title"),
    said("headline").means("The answer in one line or two."),
    object("needs", needs),
    object("searched", searched),
    flag("nothing_to_change"),
    object("as_planned", outcome),
    objects("proposals", proposals).means("Those that meet every need first."),
    objects("no_value", no_value),
    objects("hardeners", hardeners, 1),
    object("uncertain", uncertain),
    number("longest_wet_out_min"),
    list(said("cautions")),
    tables::changes};

}  // namespace advice

inline constexpr plain::Keys advice_table{
    advice::fields,
    "What to change in a job. Times count from mixing [min]; null is never, or not reached."};

}  // namespace cure::io::tables
