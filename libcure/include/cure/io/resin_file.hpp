#pragma once
/// Resin files, "libcure/resin/1": each number a quantity with unit and provenance.

#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/io/assumed_parts.hpp"
#include "cure/io/covariance_file.hpp"
#include "cure/io/evidence_file.hpp"
#include "cure/io/quantity.hpp"
#include "cure/io/rate_file.hpp"
#include "cure/io/rate_shape.hpp"
#include "cure/kinetics/resin.hpp"
#include "cure/process/limits.hpp"

namespace cure::io {

/// A resin while its file is read.
struct ResinReading {
  Json const& document;
  Limits& limits;  ///< where what each number may be is written down
  kinetics::Resin<double> r = {};
  bool diffusion_controlled = false;
  bool verified = false;
  kinetics::CastroMacosko<double> viscosity = {};
  kinetics::ModulusDevelopment<double> modulus = {};
  double per_K = 0.0, with_cure = 0.0;  ///< of the property that is read just now
};

inline constexpr char const* resin_format[] = {"libcure/resin/1"};

namespace detail::resin {

using F = ModelFields<ResinReading>;
using X = ResinReading;
using process::limits::Tg_margin;
using units::Kind;

/// A Tg that is at least another temperature.
template <auto lowest>
Range from(X const& x) {
  return {.low = lowest(x), .high = temperature().high};
}

/// By how much the Tg of a storage modulus' onset stands above the midpoint of calorimetry [K];
/// from memory.
inline constexpr double onset_above_midpoint = 10.0;

inline constexpr char const* Tg_methods[] = {"calorimetry-midpoint", "storage-modulus-onset"};

inline constexpr Field<X> glass_transition_fields[] = {
    F::word(
        "method", Tg_methods,
        [](X& x, std::size_t i) { x.r.Tg_above_midpoint = i == 0 ? 0.0 : onset_above_midpoint; })
        .means("How the Tg is known.")
        .or_else("calorimetry-midpoint"),
    F::quantity("Tg0", Kind::temperature, temperature(),
                [](X& x, double v) { x.r.glass_transition.Tg0 = v; }),
    F::quantity("Tg_inf", Kind::temperature, temperature(),
                [](X& x, double v) { x.r.glass_transition.Tg_inf = v; })
        .within(from<[](X const& x) { return x.r.glass_transition.Tg0; }>)
        .means("At least Tg0."),
    F::quantity("lambda", Kind::number, process::limits::Tg_lambda,
                [](X& x, double v) { x.r.glass_transition.lambda = v; })};

inline constexpr Object<X> glass_transition_table{glass_transition_fields, "DiBenedetto"};

inline constexpr Field<X> property_fields[] = {
    F::quantity("per_K", Kind::inverse_temperature, {.low = -5e-3, .high = 5e-3},
                [](X& x, double v) { x.per_K = v; })
        .optional(),
    F::quantity("with_cure", Kind::number, {.low = -0.5, .high = 0.5}, [](X& x, double v) {
      x.with_cure = v;
    }).optional()};

inline constexpr Object<X> property_table = Object<X>(property_fields).named("variation");

/// What was read goes to a property.
template <auto property>
void vary(Reader&, X& x) {
  (x.r.*property).a_T = std::exchange(x.per_K, 0.0);
  (x.r.*property).a_alpha = std::exchange(x.with_cure, 0.0);
}

using R = kinetics::Resin<double>;

inline constexpr Field<X> variation_fields[] = {
    F::quantity("T_ref", Kind::temperature, temperature(),
                [](X& x, double v) {
                  x.r.density.T_ref = x.r.specific_heat.T_ref = x.r.conductivity.T_ref = v;
                }),
    F::object("density", property_table).optional().and_then(vary<&R::density>),
    F::object("specific_heat", property_table).optional().and_then(vary<&R::specific_heat>),
    F::object("conductivity", property_table).optional().and_then(vary<&R::conductivity>)};

inline constexpr Object<X> variation_table{
    variation_fields,
    "How the neat resin's properties vary: reference * (1 + per_K (T - T_ref) + with_cure alpha)."};

inline constexpr Field<X> gel_fields[] = {F::quantity("alpha_gel", Kind::number,
                                                      process::limits::alpha_gel,
                                                      [](X& x, double v) { x.r.alpha_gel = v; })};

inline constexpr Object<X> gel_table{gel_fields};

inline constexpr Field<X> viscosity_fields[] = {
    F::quantity("eta0", Kind::viscosity, positive(), [](X& x, double v) { x.viscosity.eta0 = v; }),
    F::quantity("E", Kind::molar_energy, {.low = 0.0, .high = 1e6},
                [](X& x, double v) { x.viscosity.E = v; }),
    F::quantity("A", Kind::number, any(), [](X& x, double v) { x.viscosity.A = v; }),
    F::quantity("B", Kind::number, any(), [](X& x, double v) { x.viscosity.B = v; })};

inline constexpr Object<X> viscosity_table{viscosity_fields, "Castro-Macosko"};

inline void take_viscosity(Reader&, X& x) {
  x.viscosity.alpha_gel = x.r.alpha_gel;
  x.r.viscosity = x.viscosity;
}

inline constexpr Field<X> modulus_fields[] = {
    F::quantity("glass", Kind::pressure, positive(), [](X& x, double v) { x.modulus.glass = v; }),
    F::quantity("rubber", Kind::pressure, positive(), [](X& x, double v) { x.modulus.rubber = v; }),
    F::quantity("width", Kind::temperature_difference, positive(),
                [](X& x, double v) { x.modulus.width = v; })};

inline constexpr Object<X> modulus_table{modulus_fields};

inline void take_modulus(Reader&, X& x) {
  x.modulus.alpha_gel = x.r.alpha_gel;
  x.modulus.glass_transition = x.r.glass_transition;
  x.r.modulus = x.modulus;
}

inline void viscosity_is_known(Reader& limit, X& x) {
  if (!limit.has("viscosity") || x.r.viscosity) return;
  limit.fail("viscosity", "given", "only with a viscosity law in the model");
}

inline constexpr Field<X> working_limit_fields[] = {
    F::check(viscosity_is_known),
    F::quantity("viscosity", Kind::viscosity, positive(),
                [](X& x, double v) { x.r.working_limit.viscosity = v; })
        .optional(),
    F::quantity("fraction_of_gel", Kind::number, {.low = 0.0, .high = 1.0, .above = true},
                [](X& x, double v) { x.r.working_limit.fraction_of_gel = v; })
        .unless_given("viscosity")};

inline constexpr Object<X> working_limit_table{working_limit_fields};

inline constexpr Field<X> release_fields[] = {
    F::quantity("alpha_min", Kind::number, fraction(),
                [](X& x, double v) { x.r.release_alpha_min = v; }),
    F::quantity("Tg_above_wall", Kind::temperature_difference, Tg_margin,
                [](X& x, double v) { x.r.release_Tg_margin = v; })};

inline constexpr Object<X> release_table{release_fields, "Assumptions of this project."};

inline constexpr Field<X> validity_fields[] = {
    F::quantity("temperature_min", Kind::temperature, temperature(),
                [](X& x, double v) { x.r.validity.temperature_min = v; }),
    F::quantity("temperature_max", Kind::temperature, temperature(),
                [](X& x, double v) { x.r.validity.temperature_max = v; })
        .within(from<[](X const& x) { return x.r.validity.temperature_min; }>),
    F::quantity("alpha_max", Kind::number, fraction(),
                [](X& x, double v) { x.r.validity.alpha_max = v; }),
    F::quantity("Tg_margin_max", Kind::temperature_difference, Tg_margin,
                [](X& x, double v) { x.r.validity.Tg_margin_max = v; })
        .means("Largest Tg - T at which the data show the resin curing.")
        // Without diffusion control its law goes on as if the resin never turned to glass.
        .or_else("0 without diffusion control", [](Reader&, X& x) {
          if (!x.diffusion_controlled) x.r.validity.Tg_margin_max = 0.0;
        })};

inline constexpr Object<X> validity_table{validity_fields};

// What the source itself reports; the keys beside these are those of its kind.
inline constexpr Field<X> outcome_fields[] = {
    F::unread("what"),   F::unread("kind"),
    F::unread("source"), F::unread("where"),
    F::unread("basis"),  F::unread("tolerance", {.number = true, .range = positive()}).optional()};

inline constexpr Object<X> outcome_table = Object<X>(outcome_fields).with_others();

inline constexpr char const* families[] = {"epoxy-amine",  "vinyl-ester", "unsaturated-polyester",
                                           "polyurethane", "polyurea",    "other"};
inline constexpr char const* states[] = {"published", "estimated", "verified", "transcribed"};

inline void verified_says_where(Reader& d, X& x) {
  if (x.verified == x.r.evidence.verified.has_value()) return;
  d.fail("status", x.verified ? "\"verified\"" : "another",
         "\"verified\" with evidence.verified, and not without");
}

inline void read_rate(Field<X> const&, Reader& d, X& x) {
  x.r.rate = read_cure_rate(d, x.r.glass_transition);
  x.diffusion_controlled = x.document["diffusion"]["form"] != "none";
}

inline void read_covariance(Field<X> const&, Reader& d, X& x) {
  check_covariance(d, x.document, x.limits);
}

inline void read_known_evidence(Field<X> const&, Reader& d, X& x) {
  x.r.evidence = read_evidence(d);
}

inline constexpr Field<X> fields[] = {
    F::format(resin_format),
    F::text(
        "id", "a text", [](X& x, std::string t) { x.r.id = std::move(t); }, not_empty),
    F::text(
        "title", "a text", [](X& x, std::string t) { x.r.title = std::move(t); }, not_empty),
    F::text("family", "a text", nullptr, {.text = true, .words = families}),
    F::word("status", states,
            [](X& x, std::size_t i) {
              x.r.estimated = i == 1;
              x.verified = i == 2;
              x.r.transcribed = i == 3;
            })
        .means("estimated: at least one rate constant is calibrated or estimated. verified: so it "
               "is, and evidence.verified says where it has foretold measurements. transcribed: "
               "the rate constants were read at second hand, not in their authors' own table."),
    F::unread("note").optional(),
    F::texts("hazards", [](X& x, std::vector<std::string> list) { x.r.hazards = std::move(list); })
        .optional(),
    F::object("glass_transition", glass_transition_table),
    // These three are read together.
    F::field("rate", {.object = &scheme::law_table}, read_rate),
    F::unread("diffusion", {.object = &scheme::diffusion_table}),
    F::unread("inhibitor", {.object = &scheme::inhibitor_table}).optional(),
    F::quantity("initial_degree_of_cure", Kind::number, process::limits::initial_alpha,
                [](X& x, double v) { x.r.initial_degree_of_cure = v; }),
    F::quantity("heat_of_reaction", Kind::specific_energy, positive(),
                [](X& x, double v) { x.r.heat_of_reaction = v; }),
    F::quantity("density", Kind::density, positive(),
                [](X& x, double v) { x.r.density.reference = v; }),
    F::quantity("specific_heat", Kind::specific_heat, positive(),
                [](X& x, double v) { x.r.specific_heat.reference = v; }),
    F::quantity("conductivity", Kind::conductivity, positive(),
                [](X& x, double v) { x.r.conductivity.reference = v; }),
    F::object("variation", variation_table).optional(), F::object("gel", gel_table),
    F::object("viscosity", viscosity_table).optional().and_then(take_viscosity),
    F::object("modulus", modulus_table).optional().and_then(take_modulus),
    F::quantity("shrinkage", Kind::number, {.low = 0.0, .high = 0.5},
                [](X& x, double v) {
                  x.r.shrinkage = {v, x.r.alpha_gel};
                })
        .optional(),
    F::object("working_limit", working_limit_table), F::object("release", release_table),
    F::quantity("temperature_limit", Kind::temperature, temperature(),
                [](X& x, double v) { x.r.temperature_limit = v; }),
    F::object("validity", validity_table),
    F::field("evidence", {.object = &evidence_table}, read_known_evidence).optional(),
    F::check(verified_says_where),
    F::unread("reference_outcomes", {.object = &outcome_table, .list = 1}).optional(),
    F::field("covariance", {.object = &covariance_table}, read_covariance).optional()};

}  // namespace detail::resin

/// Resin files.
inline constexpr Object<ResinReading> resin_table =
    Object<ResinReading>(detail::resin::fields,
                         "A resin model. Every number is a quantity in its author's own unit, with "
                         "where it comes from.")
        .with_rules(detail::scheme::scheme_rules);

/// @param limits where what each number may be is written down
/// @throws InputError
CURE_FUNCTION kinetics::Resin<double> read_resin(Json const& document, std::string const& file,
                                                 Limits& limits);
#if CURE_DEFINES(MODELS)
CURE_FUNCTION kinetics::Resin<double> read_resin(Json const& document, std::string const& file,
                                                 Limits& limits) {
  ResinReading x{document, limits};
  Reader d(document, "", file);
  d.note_limits_in(limits);
  read_object(resin_table, d, x);
  x.r.assumed = detail::assumed_parts(document);
  return std::move(x.r);
}
#endif

/// The same. @throws InputError
inline kinetics::Resin<double> read_resin(Json const& document, std::string const& file) {
  Limits limits;
  return read_resin(document, file, limits);
}

}  // namespace cure::io
