#pragma once
/// What a document "libcure/fit/1" may hold: calorimeter runs, peaks and gel times, the laws to
/// try, and the model file to write. The front reads it by this table; the schema of a law comes
/// from the laws' own lists of constants (fit_schema.hpp).

#include "cure/io/plain_fields.hpp"

namespace cure::io::tables {

namespace fit {

using namespace plain;

inline constexpr Range temperature{.low = -100.0, .high = 500.0}, rate{.low = 0.001, .high = 500.0},
    positive{.low = 0.0, .above = true}, not_negative{.low = 0.0},
    ambient{.low = -40.0, .high = 200.0};

inline constexpr F column_fields[] = {
    said("heading").unless_given("column").means("As it stands in the file."),
    whole("column", {.low = 1.0, .high = 1000.0})
        .optional()
        .means("Its number, from 1, where the heading is not alone or missing."),
    said("unit").optional().means(
        "s, min, h, hh:mm:ss, date and time; °C, K, °F; W, mW, uW, W/g, mW/mg, W/kg. Needed where "
        "the file has none; moments with their date are known by their cells.")};
inline constexpr Keys column = Keys(column_fields).named("column");
inline constexpr F columns_fields[] = {object("time", column).optional(),
                                       object("temperature", column).optional(),
                                       object("heat_flow", column).optional()};
inline constexpr Keys columns = Keys(columns_fields).with_rules(R"([{"minProperties": 1}])");

inline constexpr char const* baseline_words[] = {"tangential-sigmoidal", "linear", "spline",
                                                 "level"};
constexpr F window(char const* key) { return list(number(key, temperature), 2, 2).optional(); }
inline constexpr F baseline_fields[] = {
    word("kind", baseline_words).optional(),
    window("left_C").means("Where the signal is straight before the exotherm."),
    window("right_C").means("Where it is straight after it.")};
inline constexpr Keys baseline{baseline_fields};

inline constexpr char const* exotherm_words[] = {"up", "down"};
inline constexpr F run_fields[] = {
    text("id"),
    text("file").means("Text beside this document: rows of time, temperature and heat flow under a "
                       "heading with units. libcure check FILE says what is understood of it."),
    object("columns", columns)
        .optional()
        .means("For what the headings of the file do not say; the others are found by their "
               "headings."),
    number("mass_mg", {.low = 0.001, .high = 10000.0})
        .optional()
        .means("Sample mass; needed when the heat flow is in W, mW or uW."),
    word("exotherm", exotherm_words).means("Where the recorded exotherm points."),
    number("heating_rate_K_min", rate)
        .unless_given("isothermal_C")
        .or_else(
            "the slope of the record's temperatures, where those of its four quarters are within "
            "5 % of each other")
        .means("As programmed; checked against the record."),
    number("isothermal_C", temperature).optional().means("As programmed."),
    number("residual_heat_J_g", {.low = 0.0, .high = 5000.0})
        .optional()
        .means("Found in a ramp after an isothermal run; total heat is the run's own and this."),
    number("begin_min", not_negative)
        .optional()
        .means("Of an isothermal run: where its signal is believed from."),
    number("end_min", positive).optional().means("Of an isothermal run."),
    object("baseline", baseline).optional()};
inline constexpr Keys run = Keys(run_fields).named("run");

inline constexpr F peak_fields[] = {number("heating_rate_K_min", rate),
                                    number("temperature_C", {.low = -20.0, .high = 500.0})
                                        .means("Where the heat flow was greatest.")};
inline constexpr Keys peak = Keys(peak_fields).named("peak");

constexpr F of_cup(F const& one) { return one.only_with("mass_g", ""); }
inline constexpr F gel_time_fields[] = {
    text("id"),
    number("gel_time_min", positive).means("From mixing."),
    number("ambient_C", ambient).means("Air or bath."),
    number("mix_temperature_C", ambient).optional().means("Of the fresh mix; ambient by default."),
    number("mass_g", positive)
        .optional()
        .means("Of a cup that heats itself; without it, a thin film at ambient temperature."),
    of_cup(number("surface_area_cm2", not_negative))
        .means("Through which the cup loses heat; 0: none."),
    of_cup(number("h_W_m2K", {.low = 0.0, .high = 1000.0}))
        .means("Heat transfer coefficient of that surface."),
    of_cup(number("heat_of_reaction_J_g", positive)).means("Of the mix."),
    of_cup(number("specific_heat_J_gK", {.low = 0.0, .high = 10.0, .above = true}))
        .means("Of the mix."),
    number("alpha_gel", {.low = 0.0, .high = 0.999999, .above = true})
        .means("Degree of cure at the gel point."),
    number("relative_error", {.low = 0.0, .high = 1.0, .above = true})
        .or_number(0.1, "")
        .means("Standard deviation of the time over the time.")};
inline constexpr Keys gel_time = Keys(gel_time_fields).named("gel_time");

inline constexpr char const* loss_words[] = {"linear", "soft_l1", "huber", "cauchy"};
inline constexpr F option_fields[] = {
    whole("starts", {.low = 1.0, .high = 4096.0}).or_number(32.0, ""),
    whole("seed", {.low = 0.0, .high = 4294967295.0}).or_number(1.0, ""),
    word("loss", loss_words).or_word("linear"),
    number("loss_scale", {.low = 0.0, .high = 1.0, .above = true})
        .or_number(0.05, "")
        .means("Residual over the peak from which a robust loss bends."),
    number("reference_temperature_C", temperature)
        .or_else("the middle of the data")
        .means("Of the rate constants."),
    text("held_out")
        .optional()
        .means("A run that is kept out of the fit and predicted; left out, each run is left out in "
               "turn "
               "after the fit."),
    whole("bootstrap", {.low = 20.0, .high = 5000.0})
        .optional()
        .means("Repetitions of a bootstrap of the best law, reported beside the other intervals; "
               "none when left out. 200 is usual.")};
inline constexpr Keys options{option_fields};

inline constexpr char const* family_words[] = {
    "epoxy-amine", "vinyl-ester", "unsaturated-polyester", "polyurethane", "polyurea", "other"};
inline constexpr F model_fields[] = {
    field("id", {.text = true,
                 .pattern = "^[a-z0-9][a-z0-9-]*$",
                 .allowed = "lower-case letters, digits and hyphens"})
        .means("Also the name of the model file."),
    text("title"),
    said("note").optional(),
    word("family", family_words),
    list(text("hazards")).optional(),
    text("properties_from")
        .means("Resin model (id or path) that density, Tg, gel point, viscosity, criteria and "
               "limits are taken from; a calorimeter does not measure them."),
    text("law").optional().means(
        "Law to write, by its name in the report; by default the simplest that predicts runs left "
        "out as well as the best. What that costs is said.")};
inline constexpr Keys model{model_fields};

constexpr F seconds(char const* key, double low, double high) {
  return number(key, {.low = low, .high = high}).optional();
}
inline constexpr F instrument_fields[] = {
    seconds("time_constant_s", 0.0, 120.0).means("Of the signal, as measured; 3.2 by default."),
    seconds("time_constant_error_s", 0.0, 120.0)
        .means("1 where the time constant is stated, 2.4 by default."),
    seconds("thermal_lag_s", -60.0, 120.0)
        .means(
            "Of the sample behind its programme; 3.2 by default, 0 where the calibration takes it "
            "out."),
    seconds("thermal_lag_error_s", 0.0, 120.0).means("1 where the lag is stated, 2.4 by default."),
    number("drift_W_g", {.low = 0.0, .high = 1.0})
        .optional()
        .means("Error of the signal over an isothermal run; 0.01 by default."),
    seconds("lost_start_s", 0.0, 3600.0)
        .means("How long before its record an isothermal sample began to react, root mean square; "
               "60 by default."),
    number("mass_error", {.low = 0.0, .high = 0.5})
        .optional()
        .means("Relative error of a sample's mass; 0.02 by default."),
    number("baseline_error", {.low = 0.0, .high = 0.2})
        .optional()
        .means("Error of the baseline under a ramp's exotherm, over the peak; 0.006 by default."),
    number("capacity_step_J_gK", {.low = 0.0, .high = 2.0})
        .optional()
        .means("Error by a step of the heat capacity before a ramp's exotherm or where it begins; "
               "0.11 by default.")};
inline constexpr Keys instrument{
    instrument_fields,
    "What instrument and samples may have done to the runs: fitted with the constants, so that "
    "their intervals say it. Errors are standard deviations."};

inline constexpr F prediction_fields[] = {
    text("id"),
    number("isothermal_C", {.low = -20.0, .high = 300.0})
        .unless_given("programme")
        .means("Held there for good."),
    field("programme", {.number = true, .list = 2, .least = 2, .most = 1000})
        .optional()
        .means("Minutes from 0 on, rising, and the temperature then [degC]; straight in between.")};
inline constexpr Keys prediction = Keys(prediction_fields).named("prediction");

// Names of laws and constants are checked by the laws themselves.
inline constexpr Shape constant{.number = true};
inline constexpr Keys constants = others(constant);
inline constexpr F law_fields[] = {text("law"),
                                   field("diffusion", {.flag = true, .text = true}).optional(),
                                   flag("inhibitor").optional(),
                                   flag("ether").optional(),
                                   flag("initial_cure").optional(),
                                   object("fixed", constants).optional()};
inline constexpr Keys law = Keys(law_fields).named("law");

inline constexpr char const* scheme_words[] = {"sequential", "three-step parallel"};
inline constexpr char const* format_words[] = {"libcure/fit/1"};
inline constexpr F fields[] = {
    word("format", format_words),
    text("title"),
    said("note").optional(),
    objects("runs", run, 1).optional(),
    objects("peaks", peak, 1, 1000)
        .optional()
        .means("Peaks of further ramps of the same resin, of which no record is at hand: for the "
               "activation energy by Kissinger and ASTM E698, beside those of the runs. Alone, "
               "without runs and gel times, they give that energy only; laws and model are then "
               "left out."),
    objects("gel_times", gel_time, 1).optional(),
    objects("laws", law, 1, 12).optional(),
    field("schemes", {.text = true, .words = scheme_words, .list = 1, .least = 1, .unique = true})
        .optional()
        .means("Schemes of several steps to fit beside the laws: A to B to C, and three "
               "independent steps of order n. Needs three runs. Only the latter can be written as "
               "a model, by model.law."),
    objects("predictions", prediction, 1, 20)
        .optional()
        .means("What to foretell times to degrees of cure for, without a law and by the one that "
               "is written. Needs three runs. Left out: 20 degC, and a temperature within the "
               "data."),
    object_or_empty("options", options),
    object("model", model).optional(),
    object("instrument", instrument).optional()};

}  // namespace fit

inline constexpr plain::Keys fit_table =
    plain::Keys(fit::fields,
                "What to fit: calorimeter runs, peaks and gel times, the laws to try, and the "
                "model file to write. Not expressible here and checked by the reader: windows "
                "ascending, ids given once, constants that the law has.")
        .with_rules(R"([{"anyOf": [{"required": ["runs", "laws", "model"]},
           {"required": ["gel_times", "laws", "model"]},
           {"required": ["peaks"], "not": {"anyOf": [{"required": ["runs"]},
              {"required": ["gel_times"]}, {"required": ["laws"]}, {"required": ["model"]}]}}]}])");

}  // namespace cure::io::tables
