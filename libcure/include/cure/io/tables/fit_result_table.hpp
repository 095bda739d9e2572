#pragma once
/// What "libcure/fit-result/1" holds: what a fit found, which the front writes.

#include "cure/io/tables/shared_table.hpp"

namespace cure::io::tables {

namespace fit_result {

inline constexpr Shape nothing{.null = true};

inline constexpr char const* format_words[] = {"libcure/fit-result/1"};

inline constexpr F runs_fields[] = {
    said("id"),
    maybe("heating_rate_K_min").means("null: isothermal."),
    whole("points"),
    said("baseline"),
    list(number("windows_min"), 4, 4).means("Ends of the left and of the right window."),
    number("heat_J_g"),
    maybe("total_heat_J_g")
        .means("That the degree of cure is counted on, when it is not the run's own."),
    maybe("peak_C"),
    maybe("noise_W_g")};
inline constexpr Keys runs = Keys(runs_fields);

inline constexpr F peaks_fields[] = {number("heating_rate_K_min"), number("temperature_C")};
inline constexpr Keys peaks = Keys(peaks_fields);

inline constexpr F by_peaks_each_fields[] = {number("E_kJ_mol"), maybe("low_kJ_mol"),
                                             maybe("high_kJ_mol"), maybe("A_1_s"),
                                             maybe("r_squared")};
inline constexpr Keys by_peaks_each = Keys(by_peaks_each_fields);

inline constexpr Shape by_peaks_shape{.object = &by_peaks_each};

inline constexpr Keys by_peaks = others(by_peaks_shape);

inline constexpr F by_conversion_each_fields[] = {maybe("mean_kJ_mol"), maybe("variation")};
inline constexpr Keys by_conversion_each = Keys(by_conversion_each_fields);

inline constexpr Shape by_conversion_shape{.object = &by_conversion_each};

inline constexpr Keys by_conversion = others(by_conversion_shape);

inline constexpr F activation_energy_fields[] = {
    objects("peaks", peaks),
    object("by_peaks", by_peaks).means("Intervals by Student's t; none from two peaks."),
    object("by_conversion", by_conversion)
        .means("Means over alpha from 0.1 to 0.9; the curves are in energies.csv.")};
inline constexpr Keys activation_energy = Keys(activation_energy_fields);

inline constexpr F constants_fields[] = {said("constant"),
                                         maybe("value"),
                                         maybe("low"),
                                         maybe("high"),
                                         said("unit"),
                                         flag("held"),
                                         list(maybe("profile"), 2, 2).optional(),
                                         list(maybe("bootstrap"), 2, 2).optional()};
inline constexpr Keys constants = Keys(constants_fields);

inline constexpr F instrument_fields[] = {number("time_constant_s"), maybe("time_constant_error_s"),
                                          number("thermal_lag_s"), maybe("thermal_lag_error_s")};
inline constexpr Keys instrument = Keys(instrument_fields);

inline constexpr F runs_2_fields[] = {said("id"),
                                      number("mass_off").optional(),
                                      number("mass_off_error").optional(),
                                      number("drift_W_g").optional(),
                                      number("drift_W_g_error").optional(),
                                      number("lost_start_s").optional(),
                                      number("lost_start_s_error").optional()};
inline constexpr Keys runs_2 = Keys(runs_2_fields);

inline constexpr F laws_fields[] = {
    said("law"),
    said("no_model").means("Why it cannot be a model; empty when it can."),
    number("reference_temperature_C"),
    maybe("aicc"),
    maybe("bic"),
    maybe("rms_rate").means("Over the peak."),
    maybe("rms_alpha"),
    maybe("rms_left_out"),
    whole("starts"),
    whole("starts_that_agree"),
    objects("constants", constants),
    maybe("weight").means(
        "Akaike weight among the laws that can be a model, by independent points; null: none can."),
    object("instrument", instrument)
        .or_null()
        .means("Lags as fitted, with standard errors; null: not fitted."),
    objects("runs", runs_2)
        .means("What may be off in each run, with standard errors: mass over the stated one, less "
               "1; drift over the run; time reacted before the record.")};
inline constexpr Keys laws = Keys(laws_fields);

inline constexpr Shape not_fitted_shape{.text = true};

inline constexpr Keys not_fitted = others(not_fitted_shape);

inline constexpr Shape by_law_min_shape{.number = true};

inline constexpr Keys by_law_min = others(by_law_min_shape);

inline constexpr F gel_times_fields[] = {said("id"), number("observed_min"),
                                         object("by_law_min", by_law_min)};
inline constexpr Keys gel_times = Keys(gel_times_fields);

inline constexpr char const* severity_words[] = {"warning", "note"};

inline constexpr F findings_fields[] = {word("severity", severity_words), said("code"),
                                        said("about"), said("message")};
inline constexpr Keys findings = Keys(findings_fields);

inline constexpr F choice_fields[] = {
    said("law").means("Written as the model."),
    said("predicts_best").means("Law that predicts runs left out best."), said("reason")};
inline constexpr Keys choice = Keys(choice_fields);

inline constexpr char const* said_words[] = {"single", "not single", "undecided"};

inline constexpr F verdict_fields[] = {
    word("said", said_words),
    number("variation").means("Greatest less least E over alpha 0.1 to 0.9, over the mean."),
    number("surely").means("By how much E varies at least, by its band."),
    maybe("at_most"),
    said("reason"),
    list(said("laws")).means("To try.")};
inline constexpr Keys verdict = Keys(verdict_fields);

inline constexpr F distances_fields[] = {said("model"), number("y"), number("z")};
inline constexpr Keys distances = Keys(distances_fields);

inline constexpr F master_plots_fields[] = {
    number("E_kJ_mol"), number("y_greatest_at").means("Degree of cure."),
    objects("distances", distances)
        .means("Standard models, nearest first: root mean square over alpha 0.1 to 0.9 over that "
               "of the model's curve.")};
inline constexpr Keys master_plots = Keys(master_plots_fields);

inline constexpr F combined_fields[] = {
    list(maybe("E_kJ_mol"), 3, 3).means("Value, low and high end of the 95 % interval."),
    list(maybe("ln_cA_1_s"), 3, 3).means("Value, low and high end of the 95 % interval."),
    list(maybe("m"), 3, 3).means("Value, low and high end of the 95 % interval."),
    list(maybe("n"), 3, 3).means("Value, low and high end of the 95 % interval."),
    number("correlation"),
    number("misfit").means(
        "Root mean square distance from the straight line, as a share of the rate.")};
inline constexpr Keys combined = Keys(combined_fields);

inline constexpr F compensation_fields[] = {
    number("slope_mol_J"), number("intercept").means("ln A = slope E + intercept, A in 1/s."),
    number("correlation").means("Least of the ramps.")};
inline constexpr Keys compensation = Keys(compensation_fields);

inline constexpr F stalls_fields[] = {said("run"), number("temperature_C"), number("ended"),
                                      number("foretold")};
inline constexpr Keys stalls = Keys(stalls_fields);

inline constexpr F model_free_fields[] = {
    list(said("shaped_by"))
        .means("Runs behind E, shape and verdict: the ramps where there are three, else all."),
    list(said("runs")).means("Runs behind predictions."),
    object("verdict", verdict).or_null(),
    object("master_plots", master_plots).or_null(),
    object("combined", combined)
        .or_null()
        .means("Combined kinetic analysis, f = c alpha^m (1 - alpha)^n."),
    object("compensation", compensation).or_null(),
    objects("stalls", stalls).means("Isothermal runs that stop short of what the ramps foretell.")};
inline constexpr Keys model_free = Keys(model_free_fields);

inline constexpr F times_fields[] = {
    number("alpha"),
    list(maybe("without_law_min"), 3, 3).means("Value, low and high end of the 95 % interval."),
    plain::or_else(list(maybe("by_law_min"), 3, 3), nothing)};
inline constexpr Keys times = Keys(times_fields);

inline constexpr F predictions_fields[] = {
    said("id"), said("programme").means("In words."), said("law").means("Empty: none."),
    flag("extrapolated").means("It runs colder than any run reacts."), objects("times", times)};
inline constexpr Keys predictions = Keys(predictions_fields);

inline constexpr char const* scheme_words[] = {"sequential", "three-step parallel"};

inline constexpr F constants_2_fields[] = {said("constant"), number("value"), said("unit")};
inline constexpr Keys constants_2 = Keys(constants_2_fields);

inline constexpr F schemes_fields[] = {
    word("scheme", scheme_words),
    number("reference_temperature_C"),
    number("rms_rate").means("Over the peak."),
    maybe("rms_left_out"),
    flag("in_model_files").means("Whether their format holds it."),
    objects("constants", constants_2)};
inline constexpr Keys schemes = Keys(schemes_fields);

inline constexpr F fields[] = {
    word("format", format_words),
    said("libcure"),
    said("title"),
    said("data").means("What was fitted, in a few words."),
    objects("runs", runs),
    object("activation_energy", activation_energy).or_null(),
    objects("laws", laws)
        .means("The one that is written first; those that cannot be a model last."),
    object("not_fitted", not_fitted).means("By law: why."),
    objects("gel_times", gel_times),
    objects("findings", findings),
    object("choice", choice).or_null(),
    object("model_free", model_free)
        .or_null()
        .means("What three runs or more say without a law; curves are in model_free.csv. null: "
               "fewer."),
    objects("predictions", predictions)
        .means("Times to degrees of cure, without a law and by the one that is written; the curves "
               "are in predictions.csv."),
    objects("schemes", schemes)};

}  // namespace fit_result

inline constexpr plain::Keys fit_result_table{
    fit_result::fields,
    "What a fit found, for machines: libcure fit writes it as fit.json beside model file and "
    "report. Intervals are of 95 %; null where a number is not known or an interval is open."};

}  // namespace cure::io::tables
