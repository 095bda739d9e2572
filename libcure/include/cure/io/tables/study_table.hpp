#pragma once
/// What a document "libcure/study/1" may hold: measurements of one resin by whatever means, and the
/// temperatures of one's jobs. The front reads it by this table (studying/).

#include "cure/io/plain_fields.hpp"
#include "cure/io/tables/fit_table.hpp"

namespace cure::io::tables {

namespace study {

using namespace plain;

/// A temperature in degrees Celsius, unless it is given in Fahrenheit.
constexpr F celsius(char const* key, char const* other, double low, double high) {
  return number(key, {.low = low, .high = high}).unless_given(other);
}
constexpr F fahrenheit(char const* key, double low, double high) {
  return number(key, {.low = 1.8 * low + 32.0, .high = 1.8 * high + 32.0}).optional();
}
constexpr F minutes(char const* key = "time_min") {
  return number(key, {.low = 0.0, .high = 600000.0, .above = true}).unless_given("time_h");
}
constexpr F hours() {
  return number("time_h", {.low = 0.0, .high = 10000.0, .above = true}).optional();
}
constexpr F at(double high = 250.0) {
  return celsius("temperature_C", "temperature_F", -20.0, high);
}
constexpr F at_F(double high = 250.0) { return fahrenheit("temperature_F", -20.0, high); }
constexpr F spread(char const* key) {
  return number(key, {.low = 0.0, .high = 1000.0, .above = true}).optional();
}
constexpr F mark(char const* key) {
  return number(key, {.low = 0.0, .high = 1e5, .above = true}).optional();
}

inline constexpr char const* seen_words[] = {"then", "by", "not before"};
constexpr F seen() {
  return word("seen", seen_words)
      .or_word("then")
      .means("Whether the time is that of the event, or it had come by then, or not yet.");
}

inline constexpr F film_fields[] = {at(120.0), at_F(120.0), minutes(), hours(), seen()};
inline constexpr Keys film{film_fields, "Gel time of a film."};
inline constexpr F releasable_fields[] = {at(80.0), at_F(80.0), minutes(), hours(), seen()};
inline constexpr Keys releasable{releasable_fields,
                                 "When a film is hard, or may be loaded; a maker's table too."};

inline constexpr F reaches_fields[] = {celsius("temperature_C", "temperature_F", 0.0, 250.0),
                                       fahrenheit("temperature_F", 0.0, 250.0), minutes(), hours()};
inline constexpr Keys reaches{reaches_fields};
inline constexpr char const* cup_words[] = {"plastic", "paper", "foam", "metal"};
inline constexpr F cup_fields[] = {
    number("mass_g", {.low = 5.0, .high = 20000.0}),
    celsius("air_C", "air_F", -10.0, 45.0),
    fahrenheit("air_F", -10.0, 45.0),
    celsius("start_C", "start_F", -10.0, 50.0)
        .optional()
        .means("Of the fresh mix; else the air's."),
    fahrenheit("start_F", -10.0, 50.0),
    word("cup", cup_words).or_word("plastic").means("How it loses heat."),
    mark("gel_min"),
    objects("reaches", reaches, 1, 10).optional().means("When it passed a temperature."),
    celsius("peak_C", "peak_F", 0.0, 350.0).optional(),
    fahrenheit("peak_F", 0.0, 350.0),
    mark("peak_min"),
    spread("peak_sd").means("[K]"),
    text("log").optional().means("A logger's file beside this document, instead of marks."),
    text("channel").only_with("log", "").optional(),
    text("mixed_at").only_with("log", "").optional().means("Time of day by the logger's clock.")};
inline constexpr Keys cup{cup_fields, "A mass that heats itself."};

inline constexpr char const* Tg_words[] = {"calorimetry", "dynamic onset"};
inline constexpr F Tg_fields[] = {at(),
                                  at_F(),
                                  minutes(),
                                  hours(),
                                  word("method", Tg_words).or_word("calorimetry"),
                                  celsius("Tg_C", "Tg_F", -60.0, 250.0),
                                  fahrenheit("Tg_F", -60.0, 250.0)};
inline constexpr Keys Tg{Tg_fields, "Glass transition after a time at a temperature."};
inline constexpr F Tg_full_fields[] = {celsius("Tg_C", "Tg_F", -20.0, 300.0),
                                       fahrenheit("Tg_F", -20.0, 300.0)};
inline constexpr Keys Tg_full{Tg_full_fields, "Of the resin that is fully cured."};

inline constexpr F conversion_fields[] = {at(), at_F(), minutes(), hours(),
                                          number("alpha", {.low = 0.0, .high = 1.0})};
inline constexpr Keys conversion{conversion_fields, "Degree of cure after a time."};
inline constexpr F residual_fields[] = {
    at(), at_F(), minutes(), hours(),
    number("share", {.low = 0.0, .high = 1.0}).means("Of the whole heat.")};
inline constexpr Keys residual{residual_fields, "Heat that is left after a time."};
inline constexpr F heat_fields[] = {number("heat_kJ_kg", {.low = 1.0, .high = 2000.0})};
inline constexpr Keys heat{heat_fields, "Heat of reaction."};

inline constexpr Range rate{.low = 0.1, .high = 100.0}, mass{.low = 0.1, .high = 1000.0};
inline constexpr F peak_fields[] = {number("heating_rate_K_min", rate),
                                    celsius("temperature_C", "temperature_F", 0.0, 300.0),
                                    fahrenheit("temperature_F", 0.0, 300.0),
                                    number("start_C", {.low = -60.0, .high = 100.0})
                                        .unless_given("start_F")
                                        .or_number(-20.0, "")
                                        .means("Of the ramp."),
                                    fahrenheit("start_F", -60.0, 100.0)};
inline constexpr Keys peak{peak_fields, "Peak of a calorimeter's ramp."};
constexpr F record() { return text("file").means("A calorimeter's export, as for fits."); }
constexpr F columns() { return object("columns", fit::columns).optional(); }
inline constexpr F ramp_fields[] = {number("heating_rate_K_min", rate), number("mass_mg", mass),
                                    word("exotherm", fit::exotherm_words), record(), columns()};
inline constexpr Keys ramp{ramp_fields, "A calorimeter's ramp."};
inline constexpr F isothermal_fields[] = {
    at(),     at_F(),   number("mass_mg", mass), word("exotherm", fit::exotherm_words),
    record(), columns()};
inline constexpr Keys isothermal{isothermal_fields, "A calorimeter's record at one temperature."};

inline constexpr F viscosity_fields[] = {at(60.0), at_F(60.0),
                                         number("viscosity_Pa_s", {.low = 1e-3, .high = 1e4})};
inline constexpr Keys viscosity{viscosity_fields, "Of the fresh mix."};
inline constexpr F doubling_fields[] = {at(60.0), at_F(60.0), minutes(), hours()};
inline constexpr Keys doubling{doubling_fields, "When the viscosity has doubled."};
inline constexpr F modulus_fields[] = {at(), at_F(), minutes(), hours(),
                                       number("modulus_GPa", {.low = 1e-4, .high = 20.0})};
inline constexpr Keys modulus{modulus_fields, "At the temperature of the cure."};
inline constexpr F shrinkage_fields[] = {number("volume_percent", {.low = 0.1, .high = 20.0})};
inline constexpr Keys shrinkage{shrinkage_fields, "Of the volume, from liquid to full cure."};

inline constexpr char const* place_words[] = {"liner inner face", "liner middle",
                                              "liner outer face"};
inline constexpr F job_fields[] = {text("case").means("A case file beside this document."),
                                   text("log").means("Readings of a thermocouple."),
                                   word("at", place_words).or_word("liner outer face")};
inline constexpr Keys job{job_fields, "A job that was followed."};

inline constexpr Kind<Nothing> kinds[] = {{"film_gel", &film},
                                          {"cup", &cup},
                                          {"releasable", &releasable},
                                          {"Tg", &Tg},
                                          {"Tg_full", &Tg_full},
                                          {"conversion", &conversion},
                                          {"residual_heat", &residual},
                                          {"heat", &heat},
                                          {"peak", &peak},
                                          {"ramp", &ramp},
                                          {"viscosity", &viscosity},
                                          {"doubling", &doubling},
                                          {"isothermal", &isothermal},
                                          {"modulus", &modulus},
                                          {"shrinkage", &shrinkage},
                                          {"job", &job}};
inline constexpr F measurement_fields[] = {
    text("name").optional(), flag("hold_back").or_word("false").means("Kept out, and foretold."),
    spread("sd").means("Standard deviation of its error: of ln of a time, a heat, a viscosity or a "
                       "modulus, of a temperature [K], of a share.")};
inline constexpr Keys measurement =
    Keys("kind", kinds, nullptr, "A measurement.").beside(measurement_fields);

inline constexpr char const* family_words[] = {"epoxy-amine", "unsaturated-polyester",
                                               "polyurethane", "vinyl-ester"};
inline constexpr char const* format_words[] = {"libcure/study/1"};
inline constexpr F fields[] = {
    word("format", format_words),
    field("id", {.text = true,
                 .pattern = "^[A-Za-z0-9_-]+$",
                 .allowed = "letters, digits, - and _, for it names a file"}),
    text("title"),
    text("note").optional(),
    word("family", family_words).means("Whose ranges serve for what nobody measured."),
    list(number("jobs_C", {.low = -5.0, .high = 40.0}), 1, 6)
        .optional()
        .means("Temperatures of one's jobs; 5, 10 and 20 when left out."),
    objects("measurements", measurement, 1, 200)};

}  // namespace study

inline constexpr plain::Keys study_table{
    study::fields,
    "Measurements of one resin, of which libcure study makes a model. What else a measurement "
    "needs, such as a record that can be read, the reader says."};

}  // namespace cure::io::tables
