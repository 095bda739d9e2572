#pragma once
/// What "libcure/verdict/1" holds: what a prediction says (verdict_file.hpp, answer_file.hpp).

#include "cure/io/tables/shared_table.hpp"

namespace cure::io::tables {

namespace verdict {

inline constexpr char const* format_words[] = {"libcure/verdict/1"};

inline constexpr F made_fields[] = {said("libcure"), said("time").means("ISO 8601, UTC.")};
inline constexpr Keys made = Keys(made_fields);

inline constexpr F resin_fields[] = {said("id"), said("title"), flag("estimated")};
inline constexpr Keys resin = Keys(resin_fields);

inline constexpr char const* layer_words[] = {"mixed mass", "bladder", "liner", "pipe", "ground"};

inline constexpr char const* position_words[] = {"whole mass", "inner face", "middle",
                                                 "outer face"};

inline constexpr char const* stage_words[] = {"mixed_mass", "wet_out", "held", "after_release"};

inline constexpr F point_fields[] = {
    word("layer", layer_words),
    word("position", position_words),
    number("radius_mm", {.low = 0.0, .above = true}).or_null(),
    word("stage", stage_words),
    number("time_min", {.low = 0.0}),
    number("temperature_C"),
    number("alpha", {.low = -0.001, .high = 1.001})
        .optional()
        .means("Of resin points. By the solver's tolerance it may stand just outside 0 to 1."),
    number("angle_deg", {.low = 0.0, .high = 360.0})
        .optional()
        .means("From the invert, clockwise; in a section around the pipe."),
    said("clock").optional().means(
        "The same on the clock, such as 5 o'clock; of a mirrored pipe both sides."),
    number("position_mm")
        .optional()
        .means("From the end of the liner; in a section along the pipe. Negative before it.")};
inline constexpr Keys point = Keys(point_fields).named("point");

inline constexpr F layer_peak_fields[] = {
    object("mixed mass", point).optional(), object("bladder", point).optional(),
    object("liner", point).optional(), object("pipe", point).optional(),
    object("ground", point).optional()};
inline constexpr Keys layer_peak = Keys(layer_peak_fields);

inline constexpr F leftover_mass_fields[] = {never("gel_time_min"), number("peak_temperature_C"),
                                             number("peak_time_min", {.low = 0.0})};
inline constexpr Keys leftover_mass = Keys(leftover_mass_fields);

inline constexpr F limiting_fields[] = {
    object("working", point).optional(), object("gel_first", point).optional(),
    object("gel_last", point).optional(), object("release", point).optional(),
    object("service", point).optional()};
inline constexpr Keys limiting = Keys(limiting_fields);

inline constexpr F numerical_error_fields[] = {
    never("working_time_min"),
    never("gel_time_first_min"),
    never("gel_time_last_min"),
    never("criterion_met_min"),
    never("service_time_min"),
    number("peak_temperature_K", {.low = 0.0}),
    list(said("marginal"))
        .means("Times whose criterion is met, or missed, by less than its own error.")};
inline constexpr Keys numerical_error = Keys(numerical_error_fields);

inline constexpr char const* by_words[] = {"mechanics", "conversion"};

inline constexpr F needs_fields[] = {said("what"), maybe("alpha"), maybe("Tg_margin_K"),
                                     maybe("modulus_MPa")};
inline constexpr Keys needs = Keys(needs_fields);

inline constexpr F criterion_fields[] = {
    share("alpha_min"),
    number("safety_factor", {.low = 1.0}),
    number("service_temperature_C"),
    number("service_Tg_margin_K"),
    word("by", by_words),
    maybe("Tg_margin_K").means("Null: no resin in this wall bears what it must."),
    objects("needs", needs)};
inline constexpr Keys criterion = Keys(criterion_fields);

inline constexpr char const* accuracy_words[] = {"quick", "standard", "fine"};

inline constexpr F solver_fields[] = {
    word("accuracy", accuracy_words), whole("steps", {.low = 0.0}),
    whole("rejections", {.low = 0.0}),
    number("energy_residual", {.low = 0.0}).means("Worst of all stages, relative.")};
inline constexpr Keys solver = Keys(solver_fields);

inline constexpr F climate_fields[] = {
    number("annual_mean_C"),
    number("amplitude_K"),
    number("day_of_minimum"),
    number("depth_m"),
    number("day"),
    number("amplitude_at_depth_K"),
    number("lag_days").means("By which that depth follows the surface."),
    maybe("worst_month_K")
        .means(
            "Largest distance of a monthly mean from the wave; null without a table by months.")};
inline constexpr Keys climate = Keys(climate_fields);

inline constexpr F groundwater_fields[] = {number("h_W_m2K"), number("temperature_C"),
                                           number("radius_m")};
inline constexpr Keys groundwater = Keys(groundwater_fields);

inline constexpr F freezing_fields[] = {number("water_kg_m3"), number("start_C"),
                                        number("range_K")};
inline constexpr Keys freezing = Keys(freezing_fields);

inline constexpr F ground_fields[] = {
    said("material"),
    number("temperature_C").means("Undisturbed, at mixing."),
    object("climate", climate)
        .or_null()
        .means("Where the temperature came from; null when it was given."),
    maybe("far_radius_m").means("Null with groundwater."),
    maybe("far_radius_error")
        .means("Share by which the pipe's warming is wrong because the ground ends there; an "
               "estimate, within a factor of 2."),
    object("groundwater", groundwater).or_null(),
    object("freezing", freezing).or_null(),
    maybe("coldest_C").means("Of the ground while the liner is in it; null without ground.")};
inline constexpr Keys ground = Keys(ground_fields);

inline constexpr char const* stage_words_2[] = {"wet_out", "held", "after_release"};

inline constexpr F films_fields[] = {word("stage", stage_words_2),
                                     said("surface"),
                                     said("law"),
                                     said("source"),
                                     number("diameter_mm"),
                                     number("air_pressure_bar"),
                                     number("wind_m_s"),
                                     maybe("h_low_W_m2K"),
                                     maybe("h_high_W_m2K"),
                                     flag("in_range").or_null()};
inline constexpr Keys films = Keys(films_fields);

inline constexpr F band_fields[] = {maybe("p5"), maybe("p50"), maybe("p95")};
inline constexpr Keys band =
    Keys(band_fields,
         "5, 50 and 95 % of the samples, the next one to the safe side; null is infinite: never, "
         "or not up to the end of the held stage.")
        .named("band");

inline constexpr F release_state_share_fields[] = {
    share("reached"),       share("not_in_hold"),
    share("vitrified"),     share("gelled_before_held"),
    share("no_held_stage"), share("failed"),
    share("outside_model")};
inline constexpr Keys release_state_share = Keys(release_state_share_fields);

inline constexpr F working_side_fields[] = {
    maybe("estimate_min"),
    maybe("bound_min").means("Its 95 % confidence bound by order statistics."),
    flag("covered").means("Whether the samples are enough for the bound.")};
inline constexpr Keys working_side = Keys(working_side_fields);

inline constexpr F ranges_fields[] = {
    object("working_time_min", band),
    object("working_margin_min", band).or_null().means("Null without a held stage."),
    object("latest_in_place_min", band)
        .or_null()
        .means("Latest moment at which the liner may be held and still be workable, when the stage "
               "before goes on until then; null where nothing comes before the hold."),
    object("gel_time_first_min", band),
    object("gel_time_last_min", band),
    object("criterion_met_min", band),
    object("service_time_min", band)
        .or_null()
        .means("Each sample released at its own time. Null without a stage after the release."),
    object("peak_temperature_C", band).means("Hottest resin up to the end of the held stage."),
    object("release_state_share", release_state_share)
        .means("Share of samples by release state; failed could not be computed and counts to the "
               "conservative side."),
    share("too_late_share")
        .means("Of samples that pass their working limit before the liner is held."),
    said("uncertain").means("What varied."),
    flag("resin_constants")
        .means("Whether the resin's constants varied too; false: they count as exact."),
    whole("samples", {.low = 16.0}),
    whole("simulated", {.low = 16.0})
        .optional()
        .means("Of the samples; the others are foretold, as they would move no bound."),
    whole("seed", {.low = 0.0}),
    share("too_hot_share")
        .means("Of samples that pass the lowest temperature limit of resin, bladder and pipe."),
    number("look_min", {.low = 0.0})
        .means("For how long the samples are held: two days, or the planned hold where that is "
               "longer."),
    object("working_side", working_side).means("5 % side of the working time."),
    object("release_side", working_side).means("95 % side of criterion_met_min.")};
inline constexpr Keys ranges = Keys(ranges_fields);

inline constexpr char const* basis_words[] = {"range", "point"};

inline constexpr char const* status_words_2[] = {"wait", "stop"};

inline constexpr F reasons_fields[] = {said("code"), said("text"), word("status", status_words_2)};
inline constexpr Keys reasons = Keys(reasons_fields);

inline constexpr F answer_fields[] = {
    word("status", status_words)
        .means("ok: do it as planned; wait: it works with what is said beside it; stop: do not."),
    maybe("release_min").means("When the bladder may come out; null when the status is stop."),
    maybe("working_until_min").means("Low side of the working time; null when it does not end."),
    maybe("latest_in_place_min")
        .means("Low side of the latest moment in place; null: no limit met, nothing comes before "
               "the hold, or a point estimate."),
    word("basis", basis_words),
    said("headline"),
    objects("reasons", reasons)};
inline constexpr Keys answer = Keys(answer_fields);

inline constexpr F fields[] = {
    word("format", format_words),
    said("title"),
    object("case", any_object).optional().means("The case as it was computed."),
    object("made", made).optional().means("By which version, and when."),
    object("resin", resin),
    never("working_time_min"),
    never("gel_time_first_min"),
    never("gel_time_last_min"),
    never("criterion_met_min")
        .means("The release criterion is met, in this one simulation; when the bladder may come "
               "out is answer.release_min."),
    word("release_state", release_states),
    never("service_time_min"),
    never("held_from_min"),
    maybe("working_margin_min").means("Working time less held_from_min; negative is too late."),
    maybe("curing_temperature_C")
        .means("Lowest temperature that would bring release within a day."),
    number("peak_temperature_C"),
    number("peak_time_min", {.low = 0.0}),
    object("peak", point),
    object("layer_peak", layer_peak),
    object("leftover_mass", leftover_mass)
        .or_null()
        .means("The mixed mass, had it stayed in its pouch; null without that stage."),
    object("limiting", limiting).means("The point that decides each time."),
    object("numerical_error", numerical_error)
        .or_null()
        .means("Estimated; by mesh and steps alone, not by what is uncertain in the inputs. Null "
               "when it was not asked for; a time's error is null where there is no time, or it "
               "cannot be told."),
    object("criterion", criterion),
    object("solver", solver),
    list(said("defaults")).means("What the case left out, and what served instead."),
    objects("cautions", coded).means("Urgent ones first; the code is stable."),
    object("ground", ground),
    objects("films", films).means("Surfaces whose heat-transfer coefficient a correlation gives."),
    object("ranges", ranges)
        .or_null()
        .means("Ranges of the same case with what is not known exactly, sampled up to the end of "
               "the held stage (service_time_min: of the last stage). Null for a point estimate; "
               "absent where they were not asked for."),
    tables::changes,
    object("answer", answer).means("What to do. The number to use is release_min."),
    said("why_no_ranges").means("Empty when there are ranges.")};

}  // namespace verdict

inline constexpr plain::Keys verdict_table{
    verdict::fields,
    "What a prediction says. Times count from mixing [min]; null is never, or not within the "
    "stages given."};

}  // namespace cure::io::tables
