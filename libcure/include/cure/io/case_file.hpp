#pragma once
/// Case documents, "libcure/case/1": what was left out is filled in and written down in
/// Case::defaults.

#include <filesystem>
#include <string>
#include <utility>

#include "cure/compiled.hpp"
#include "cure/io/json_type.hpp"
#include "cure/io/model_library.hpp"
#include "cure/process/case.hpp"

#if CURE_INSIDE
#include "cure/io/case_reading.hpp"
#include "cure/io/criteria_file.hpp"
#include "cure/io/ground_file.hpp"
#include "cure/io/resin_draws.hpp"
#include "cure/io/section_file.hpp"
#include "cure/io/stage_file.hpp"
#include "cure/process/validate.hpp"
#endif

namespace cure::io {

#if CURE_INSIDE
inline constexpr char const* case_format[] = {"libcure/case/1"};

namespace detail::repair {

using F = CaseFields;
using X = CaseReading;

/// An id, a path, or a blend {"components": [...]}. @throws InputError
inline void read_resin_model(Field<X> const&, Reader& d, X& x) {
  constexpr auto allowed =
      "the id of a resin model, a path to one, or a blend {\"components\": [...]}";
  auto& resin = x.c.resin;
  auto const& given = d.at("resin", allowed);
  if (!given.is_object()) {
    auto const path = x.library.find("resins", d.text("resin", allowed), x.beside, "resin", x.file);
    resin = load_resin(path, x.library);
    x.c.uncertain_resin = uncertain_resin(resin_parts(path, x.library), resin);
    return;
  }
  auto r = d.object("resin");
  BlendReading blend{x.library, x.beside};
  read_object(components_table, r, blend);
  resin = mixed(r, blend);
  resin.title.clear();
  for (auto const& c : given["components"]) {
    resin.title += (resin.title.empty() ? "" : " + ") + shown(100.0 * c["share"].get<double>()) +
                   " % " + c["resin"].get<std::string>();
  }
  resin.id = resin.title;
  x.c.uncertain_resin = uncertain_resin(blend_parts(given, x.library, x.beside), resin);
}

inline constexpr Field<X> pipe_fields[] = {
    F::number("inner_diameter_mm", limits::pipe_diameter, unit::mm,
              [](X& x, double v) { x.c.pipe.inner_diameter = v; }),
    F::number("wall_mm", limits::pipe_wall, unit::mm, [](X& x, double v) { x.c.pipe.wall = v; }),
    F::model("material", [](Reader&, X& x) { x.c.pipe.material = std::move(x.material); })};

inline constexpr Object<X> pipe_table{pipe_fields, "The host pipe."};

inline void liner_fits(Reader& r, X& x) {
  double const thickest = limits::liner_share * 0.5 * x.c.pipe.inner_diameter;
  if (x.c.liner.thickness < thickest) return;
  r.fail("thickness_mm", shown(1e3 * x.c.liner.thickness),
         "less than 40 % of the pipe's inner radius, " + shown(1e3 * thickest));
}

inline constexpr Field<X> liner_fields[] = {
    F::number("thickness_mm", limits::thickness, unit::mm,
              [](X& x, double v) { x.c.liner.thickness = v; }),
    F::number("length_mm", limits::liner_length, unit::mm,
              [](X& x, double v) { x.c.liner.length = v; }),
    F::number("fibre_volume_fraction", limits::fibre_volume_fraction, unit::none,
              [](X& x, double v) { x.c.liner.fibre_volume_fraction = v; })
        .or_number(0.25, "common practice for chopped mat, no source"),
    F::model(
        "fibre", [](Reader&, X& x) { x.c.liner.fibre = std::move(x.material); }, "e-glass"),
    F::check(liner_fits)};

inline constexpr Object<X> liner_table{liner_fields, "The wet laminate that becomes the liner."};

inline constexpr Field<X> bladder_fields[] = {
    F::number("thickness_mm", limits::thickness, unit::mm,
              [](X& x, double v) { x.c.bladder.thickness = v; }),
    F::model(
        "material", [](Reader&, X& x) { x.c.bladder.material = std::move(x.material); },
        "natural-rubber")};

inline constexpr Object<X> bladder_table{bladder_fields,
                                         "What presses the liner against the pipe."};
inline constexpr char const* usual_bladder = "4 mm of natural-rubber (common practice, no source)";

inline void take_usual_bladder(Reader&, X& x) {
  x.c.bladder = {4e-3, x.find("natural-rubber", false, "bladder.material")};
  x.by_default("bladder", usual_bladder);
}

inline void bladder_fits(Reader& d, X& x) {
  double const room = limits::bladder_share * x.c.bore_radius();
  if (x.c.bladder.thickness < room) return;
  d.fail("bladder.thickness_mm", shown(1e3 * x.c.bladder.thickness),
         "less than 90 % of the liner's inner radius, " + shown(1e3 * room));
}

inline constexpr Field<X> initial_fields[] = {
    F::celsius("air", [](X& x, double v) { x.c.initial.air = v; })
        .or_number(15.0, "a mild day, no source"),
    F::celsius("resin", [](X& x, double v) { x.c.initial.resin = v; })
        .or_number(F::air, "as the air"),
    F::celsius("fibre", [](X& x, double v) { x.c.initial.fibre = v; })
        .or_number(F::air, "as the air"),
    F::celsius("packer", [](X& x, double v) { x.c.initial.packer = v; })
        .or_number(F::air, "as the air"),
    F::celsius("pipe", [](X& x, double v) {
      x.c.initial.pipe = v;
    }).or_number(F::ground, "as the ground")};

inline constexpr char const* resin_or_air =
    R"json([{"anyOf": [{"required": ["resin"]}, {"required": ["air"]}]}])json";

inline constexpr Object<X> initial_table =
    Object<X>(initial_fields, "At the moment of mixing; of the resin or the air at least.")
        .with_rules(resin_or_air);

/// Nobody may mix at a temperature that nobody gave. Checked last: a slip elsewhere comes first.
inline void resin_is_told(Reader& d, X&) {
  auto initial = d.object_or_empty("initial_temperature_C");
  if (initial.has("resin") || initial.has("air")) return;
  d.fail("initial_temperature_C", "missing",
         "the resin's temperature when mixed, or the air's, such as {\"resin\": 15}");
}

constexpr Field<X> resistance(char const* key, F::Set set) {
  return F::number(key, limits::contact_resistance, unit::resistance, set);
}

inline constexpr Field<X> contact_fields[] = {
    resistance("bladder_liner", [](X& x, double v) { x.c.contact.bladder_liner = v; })
        .or_number(0.0, "pressed together"),
    resistance("liner_pipe", [](X& x, double v) { x.c.contact.liner_pipe = v; })
        .or_number(0.001, "a thin water film and dirt, assumption"),
    resistance("pipe_ground", [](X& x, double v) {
      x.c.contact.pipe_ground = v;
    }).or_number(0.0, "close bedding")};

inline constexpr Object<X> contact_table{contact_fields, "Between the layers."};

inline constexpr Field<X> fields[] = {
    F::format(case_format),
    F::text("title", "a text", [](X& x, std::string t) { x.c.title = std::move(t); }).optional(),
    F::text("note", "a text", nullptr).optional(),
    F::field("resin", {.text = true, .pattern = ".", .object = &components_table}, read_resin_model)
        .means("Id of a file in models/resins, a path to one, or a blend."),
    F::object("pipe", pipe_table),
    F::object("liner", liner_table),
    F::object("bladder", bladder_table).or_else(usual_bladder, take_usual_bladder),
    F::check(bladder_fits),
    F::object("ground", ground_table),
    F::object_or_empty("initial_temperature_C", initial_table).needed(),
    F::object_or_empty("contact_resistance_m2K_W", contact_table),
    stages_field,
    F::check(finish_ground),
    F::object_or_empty("release", criteria::release_table),
    F::object_or_empty("service", criteria::service_table),
    accuracy_field,
    numerics_field,
    section_field,
    F::check(resin_is_told)};

}  // namespace detail::repair

/// Case documents. Units of the document are turned into SI here and nowhere else.
inline constexpr Object<CaseReading> case_table{
    detail::repair::fields,
    "One repair: items, temperatures, stages and criteria. The unit is in the key. What is left "
    "out "
    "is filled in with stated defaults. The reader of the library is stricter than a schema can "
    "be: "
    "it also checks the order of the stages, rising table times, and that the layers and the "
    "section "
    "fit in the pipe."};
#endif

/// @param beside folder that relative paths in the document start from
/// @throws InputError
CURE_FUNCTION process::Case read_case(Json const& document, ModelLibrary const& library,
                                      std::filesystem::path const& beside, std::string const& file);
#if CURE_DEFINES(CASES)
CURE_FUNCTION process::Case read_case(Json const& document, ModelLibrary const& library,
                                      std::filesystem::path const& beside,
                                      std::string const& file) {
  CaseReading x{library, beside, file};
  Reader d(document, "", file);
  read_object(case_table, d, x);
  // What only the whole case shows, such as a ground whose climate leaves the range.
  try {
    process::validate(x.c);
  } catch (InputError const& e) {
    throw InputError(e.field(), e.value(), e.allowed(), file);
  }
  return std::move(x.c);
}
#endif

/// @throws InputError
CURE_FUNCTION process::Case load_case(std::filesystem::path const& path,
                                      ModelLibrary const& library);
#if CURE_DEFINES(CASES)
CURE_FUNCTION process::Case load_case(std::filesystem::path const& path,
                                      ModelLibrary const& library) {
  return read_case(load(path), library, path.parent_path(), path.string());
}
#endif

/// A case from JSON text. `name` stands for the file in messages. @throws InputError
CURE_FUNCTION process::Case parse_case(std::string const& text, ModelLibrary const& library,
                                       std::filesystem::path const& beside,
                                       std::string const& name);
#if CURE_DEFINES(CASES)
CURE_FUNCTION process::Case parse_case(std::string const& text, ModelLibrary const& library,
                                       std::filesystem::path const& beside,
                                       std::string const& name) {
  return read_case(parse(text, name), library, beside, name);
}
#endif

}  // namespace cure::io
