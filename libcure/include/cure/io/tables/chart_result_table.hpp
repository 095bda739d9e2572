#pragma once
/// What "libcure/chart-result/1" holds: a computed chart, which the front writes.

#include "cure/io/tables/shared_table.hpp"

namespace cure::io::tables {

namespace chart_result {

inline constexpr char const* format_words[] = {"libcure/chart-result/1"};

inline constexpr F axes_fields[] = {said("name"),
                                    said("title"),
                                    said("unit"),
                                    list(said("sets")),
                                    list(field("values", anything)),
                                    list(said("labels"))};
inline constexpr Keys axes = Keys(axes_fields);

inline constexpr Shape cell_shape{.text = true};

inline constexpr Keys cell = others(cell_shape);

inline constexpr Shape states_shape{.number = true, .multiple_of = 1};

inline constexpr Keys states = others(states_shape);

inline constexpr F cells_fields[] = {
    object("cell", cell).means("Label by axis."),
    flag("use").means("Whether the cell may be used. Where it is false the sheet and the page show "
                      "no time; the percentiles below stay as data."),
    list(said("why_not")).means("Why the cell must not be used."),
    maybe("in_place_shown_min")
        .means("Latest moment in place as printed; null: no limit met, or nothing comes before the "
               "hold."),
    maybe("working_shown_min")
        .means("5 % low side, rounded down; printed where the cell may be used. null: it does not "
               "end."),
    maybe("release_shown_min")
        .means("95 % high side, rounded up. null: the cell must not be used."),
    said("working_word"),
    said("release_word"),
    list(maybe("working_min"), 3, 3),
    list(maybe("gel_first_min"), 3, 3),
    list(maybe("gel_last_min"), 3, 3),
    list(maybe("criterion_met_min"), 3, 3),
    list(maybe("in_place_min"), 3, 3),
    maybe("in_place_bound_min")
        .means("5 % side of in_place_min with its sampling error; null: no limit met, or nothing "
               "comes before the hold."),
    never("working_bound_min")
        .means("5 % side of the working time with its sampling error; null: it does not end."),
    maybe("release_bound_min")
        .means("95 % side of criterion_met_min with its sampling error; null: never."),
    maybe("peak_bound_C")
        .means("95 % side of peak_temperature_C with its sampling error; null: not known."),
    list(maybe("held_from_min"), 3, 3),
    list(maybe("peak_temperature_C"), 3, 3),
    whole("samples").means("Of all but the bounds: those that all cells have."),
    whole("samples_most")
        .means("That the bounds rest on, of which those far from any bound are "
               "foretold and not simulated."),
    flag("late").means("Whether more than 5 % of jobs may be too late, by the sampling error."),
    whole("too_late").means("Samples whose working time ends before the liner is held."),
    object("states", states).means("How many samples released, or why not."),
    said("working_point"),
    said("release_point"),
    said("message")};
inline constexpr Keys cells = Keys(cells_fields);

inline constexpr char const* measure_words[] = {"log time", "rank"};

inline constexpr F release_fields[] = {
    list(maybe("first")), list(maybe("total")),
    list(maybe("first_error")).means("Standard error, by bootstrap."),
    list(maybe("total_error")).means("Standard error, by bootstrap."),
    word("measure", measure_words)
        .means("What the variance is of; rank where some samples never get there.")};
inline constexpr Keys release = Keys(release_fields);

inline constexpr F sensitivity_fields[] = {object("cell", cell).means("Label by axis."),
                                           list(said("inputs")),
                                           whole("samples"),
                                           whole("runs"),
                                           object("release", release),
                                           object("working", release)};
inline constexpr Keys sensitivity = Keys(sensitivity_fields);

inline constexpr F sanity_fields[] = {number("tolerance"), list(said("checks")),
                                      list(said("violations"))};
inline constexpr Keys sanity = Keys(sanity_fields);

inline constexpr F fields[] = {word("format", format_words),
                               said("title"),
                               said("libcure"),
                               said("date"),
                               text("inputs_hash", "^[0-9a-f]{64}$"),
                               list(whole("percentiles"), 3, 3),
                               objects("axes", axes),
                               whole("samples"),
                               whole("seed"),
                               number("working_time_needed_min"),
                               objects("cells", cells),
                               objects("sensitivity", sensitivity),
                               said("dominant_for_release").or_null(),
                               object("sanity", sanity),
                               list(said("assumptions")),
                               list(said("cautions"))};

}  // namespace chart_result

inline constexpr plain::Keys chart_result_table{
    chart_result::fields,
    "A computed chart. Lists of three are 5, 50 and 95 %. Times count from mixing [min]; null is "
    "never."};

}  // namespace cure::io::tables
