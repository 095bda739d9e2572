#pragma once
/// What a document "libcure/chart/1" may hold: a cure chart, its base case, axes, what is
/// uncertain, and how it is printed. The front reads it by this table and reads every cell's case.

#include "cure/io/plain_fields.hpp"
#include "cure/io/stated_file.hpp"

namespace cure::io::tables {

namespace chart {

using namespace plain;

inline constexpr Range month{.low = 1.0, .high = 12.0}, days{.low = 1.0, .high = 365.0},
    kelvins{.low = 0.0, .high = 40.0}, minutes{.low = 0.0, .high = 100000.0},
    samples{.low = 16.0, .high = 65536.0};
inline constexpr char const* season_words[] = {"winter", "spring", "summer", "autumn"};

constexpr F months() { return list(whole("months", month), 1, 12).elements(1, 12, true); }
constexpr F power_of_two(char const* key) {
  return field(key, {.number = true, .range = samples, .multiple_of = 1, .power_of_two = true});
}

inline constexpr F season_fields[] = {text("name"), months()};
inline constexpr Keys season{season_fields};

inline constexpr char const* order_words[] = {"faster", "none"};

inline constexpr F axis_fields[] = {
    text("name", "^[^\\W\\d]\\w*$").means("Of a table's column and an array's axis."),
    text("title").optional(),
    text("unit").optional().means(
        "The unit that the values are given in: that of the paths by their keys (°C for "
        "ground.temperature_C) when left out, or another of its kind (°F), which is converted. A "
        "unit of another kind is refused."),
    list(said("sets"), 1, 8)
        .optional()
        .means("Paths in the case that take each value together, such as ground.temperature_C or "
               "stages[0].duration_min. Left out: each value says its paths itself, or a season "
               "sets all that it moves."),
    list(field("values", anything), 1, 40)
        .optional()
        .means("Numbers in the axis' unit, words, texts with a unit such as 82 °F, or objects of "
               "values by path, the same paths in each, which are set together."),
    months().optional().means(
        "Instead of values: the paths take the temperatures of each month, by the climate."),
    field("seasons", {.number = true,
                      .range = month,
                      .multiple_of = 1,
                      .text = true,
                      .words = season_words,
                      .object = &season,
                      .list = 1,
                      .least = 1,
                      .most = 12})
        .optional()
        .means("Instead of values: months or named seasons. Each sets ground, pipe, air, resin, "
               "packer, fibre and filling together, by the climate, or the paths of sets alone. "
               "Winter is the season with the coldest day of the ground."),
    list(text("labels"), 1, 40).elements(1, 40, true).optional().means("Words for the values."),
    word("order", order_words)
        .or_word("none")
        .means("faster: each resin is faster than the one before, and the chart is checked for "
               "it.")};
inline constexpr Keys axis =
    Keys(axis_fields)
        .with_rules(
            R"([{"not": {"properties": {"name": {"enum": ["percentile", "note"]}}}},
        {"oneOf": [{"required": ["values"]}, {"required": ["months", "sets"]}, {"required": ["seasons"]}]}])");

inline constexpr char const *page_words[] = {"landscape", "portrait"},
                            *paper_words[] = {"A4", "Letter"}, *temperature_words[] = {"°C", "°F"},
                            *length_words[] = {"mm", "in"};

inline constexpr F layout_fields[] = {
    text("pages").optional().means("An axis with a page for each value: a booklet with an index."),
    text("panels").optional(),
    text("columns").optional(),
    text("rows"),
    word("page", page_words).or_word("landscape"),
    word("paper", paper_words).or_word("A4"),
    word("temperature", temperature_words)
        .or_else("that of the axes")
        .means("Which stands first on the sheet."),
    word("length", length_words).or_else("that of the axes").means("Of lengths on the sheet.")};
inline constexpr Keys layout{
    layout_fields,
    "Which axis goes where; each in one place. Left out: the last axis in rows, the one before in "
    "columns, then panels, then pages."};

inline constexpr Shape label{.text = true};
inline constexpr Keys place = others(label);
inline constexpr Shape places{.object = &place, .list = 1, .least = 1, .most = 64};
inline constexpr char const* cells_words[] = {"centre", "corners", "none"};
inline constexpr F sensitivity_fields[] = {
    plain::or_else(word("cells", cells_words), places)
        .or_word("centre")
        .means("Where Sobol' indices are computed: a word, or a list of cells, each by the label "
               "on every axis."),
    power_of_two("samples").or_number(128.0, "").means(
        "Rows of each of the two sets that the indices compare.")};
inline constexpr Keys sensitivity{sensitivity_fields};

inline constexpr Keys open_object = Keys{}.with_others();

inline constexpr F criteria_fields[] = {
    number("working_time_needed_min", minutes)
        .or_number(0.0, "")
        .means("Cells with less are marked SHORT."),
    object("release", open_object).optional().means("As in a case; overrides the base case's.")};
inline constexpr Keys criteria{criteria_fields};

inline constexpr F step_fields[] = {number("from_min", minutes),
                                    whole("step_min", {.low = 1.0, .high = 1440.0})};
inline constexpr Keys step{step_fields};
inline constexpr F rounding_fields[] = {objects("working", step, 1, 10)
                                            .optional()
                                            .means("Steps that working times are rounded down to."),
                                        objects("release", step, 1, 10)
                                            .optional()
                                            .means("Steps that release times are rounded up to.")};
inline constexpr Keys rounding{rounding_fields};

constexpr F of_wave(F const& one) {
  return one.unless_given("monthly_mean_C", ": a wave or months, not both");
}

inline constexpr F air_fields[] = {
    of_wave(number("annual_mean_C", {.low = -40.0, .high = 45.0})).means("Yearly mean."),
    of_wave(number("amplitude_K", kelvins)).means("Half of warmest less coldest mean of a day."),
    of_wave(number("day_of_minimum", days)).means("1 is 1 January."),
    list(number("monthly_mean_C", {.low = -60.0, .high = 60.0}), 12, 12)
        .optional()
        .means("January first; reached in the middle of each month, straight lines between."),
    number("day_swing_K", {.low = 0.0, .high = 30.0})
        .or_number(5.0, "an assumption without a source")
        .means("How far a day or an hour of the month is warmer or colder than the mean, evenly.")};
inline constexpr Keys air{
    air_fields,
    "Mean air temperature through the year, by mean, amplitude and coldest day, or by month."};

inline constexpr F stores_fields[] = {
    number("lag_days", {.low = 0.0, .high = 90.0})
        .or_number(3.0, "common practice, no source")
        .means("Days behind the air."),
    number("above_air_K", {.low = -20.0, .high = 40.0})
        .or_number(0.0, "")
        .means("Warmer than the air all year, as a van in the sun."),
    number("swing_share", {.low = 0.0, .high = 1.0})
        .or_number(1.0, "")
        .means("Of the air's day_swing_K."),
    number("at_least_C", {.low = -40.0, .high = 60.0}).optional().means("Of a heated store."),
    number("at_most_C", {.low = -40.0, .high = 80.0}).optional().means("Of a cooled store.")};
inline constexpr Keys stores{
    stores_fields,
    "How resin, packer and fibre in stores and vans follow the air: an assumption, which the sheet "
    "repeats (common practice, no source)."};

inline constexpr char const* fill_words[] = {"ground", "air", "stores"};
inline constexpr F climate_fields[] = {
    number("annual_mean_C", {.low = -20.0, .high = 40.0}).means("Yearly mean of the surface."),
    number("amplitude_K", kelvins).means("Half of warmest less coldest of the surface."),
    number("day_of_minimum", days).means("1 is 1 January."),
    number("diffusivity_mm2_s", {.low = 0.05, .high = 5.0}),
    number("depth_m", {.low = 0.0, .high = 30.0}).means("Of the pipe."),
    object("air", air).optional(),
    object_or_empty("stores", stores).only_with("air", ""),
    word("fill", fill_words)
        .only_with("air", "")
        .or_word("ground")
        .means("What the medium in the bladder is as warm as; ground, which it takes on in the "
               "hold, is an assumption.")};
inline constexpr Keys climate{climate_fields,
                              "Ground temperature over the year (Kusuda and Achenbach 1965)."};

inline constexpr char const* language_words[] = {"en", "de", "es", "fr", "pl"};
inline constexpr F publication_fields[] = {
    word("language", language_words)
        .or_word("en")
        .means("Of sheet and page. Titles and labels stay as they are given."),
    text("maker").optional().means("Name."),
    text("mark").optional().means("A PNG or SVG picture, by a path from this file's folder."),
    text("batch").optional().means("Of the resin or the kit."),
    text("valid_until", "^\\d{4}-\\d{2}-\\d{2}$").optional().means("A date."),
    text("check_at")
        .optional()
        .means("Where the hash in the square code can be compared; chart.json when left out.")};
inline constexpr Keys publication{
    publication_fields,
    "Who publishes the chart, in which language, and until when it holds. A square code with the "
    "whole hash of the inputs is printed when any of them but the language is given."};

inline constexpr Range spread{.low = 0.0, .high = 30.0, .above = true};
inline constexpr F sd_fields[] = {
    number("sd", spread)
        .means("[K], of the factor, or of the factor's logarithm. At most 0.2 of a "
               "normal factor and 1.5 of a lognormal one.")};
inline constexpr F half_width_fields[] = {
    number("half_width", spread).means("[K] or of the factor, there at most 0.9.")};
inline constexpr Keys with_sd{sd_fields}, with_half_width{half_width_fields};
inline constexpr Kind<Nothing> distributions[] = {
    {"normal", &with_sd}, {"uniform", &with_half_width}, {"lognormal", &with_sd}};
inline constexpr F input_fields[] = {
    text("name"), text("title").optional(),
    list(text("moves", "(_offset_K|_factor)$"), 1, most_moves)
        .means("Inputs of the ensemble (libcure.ensemble.INPUTS), offsets only or factors only.")};
inline constexpr Keys input =
    Keys("distribution", distributions, nullptr, "The median is no change: offset 0, factor 1.")
        .beside(input_fields);
inline constexpr F uncertain_fields[] = {
    whole("seed", {.low = 0.0, .high = 4294967295.0}),
    power_of_two("samples").means("A cell at most."),
    power_of_two("samples_at_least")
        .optional()
        .means("512 or samples when left out. A cell takes more, doubled up to samples, until its "
               "printed numbers would move no further than a step."),
    flag("constants")
        .or_word("true")
        .means("Whether a resin's constants vary by the covariance of its model."),
    objects("inputs", input, 0, most_stated_inputs).optional()};
inline constexpr Keys uncertain{uncertain_fields};

inline constexpr char const* format_words[] = {"libcure/chart/1"};
inline constexpr Shape case_here{.document = "case.schema.json"};
inline constexpr F fields[] = {
    word("format", format_words),
    text("title").optional(),
    text("note").optional(),
    plain::or_else(field("case", {.text = true,
                                  .pattern = "\\S",
                                  .allowed = "a case, a path to one, or the id of one that comes "
                                             "with libcure"}),
                   case_here)
        .means("A path that starts from this file's folder, or the id of a case that comes with "
               "libcure. Paths to models, in it and in the axes, start from the folder of the "
               "case."),
    object("fixed", open_object)
        .optional()
        .means("Values by path that differ from the base case in every cell."),
    objects("axes", axis, 1, 4),
    object("layout", layout).optional(),
    object("uncertain", uncertain),
    object_or_empty("sensitivity", sensitivity),
    object_or_empty("criteria", criteria),
    object_or_empty("rounding", rounding),
    object("climate", climate).optional(),
    object_or_empty("publication", publication)};

// Of a document whose ranges are wanted and nothing else.
inline constexpr F ranges_fields[] = {word("format", format_words), object("uncertain", uncertain)};

}  // namespace chart

inline constexpr plain::Keys chart_ranges_table = plain::Keys(chart::ranges_fields).with_others();

inline constexpr plain::Keys chart_table =
    plain::Keys(chart::fields,
                "A cure chart: a base case, up to four axes, what is uncertain, and how to print "
                "it. The reader of the library is stricter than a schema can be: it also reads "
                "the case of every cell.")
        .with_comments();

}  // namespace cure::io::tables
