#pragma once
/// Material and ground files, "libcure/material/1" and "libcure/ground/1".

#include <cstddef>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "cure/heat/material.hpp"
#include "cure/io/quantity.hpp"

namespace cure::io {

/// A material while its file is read.
struct MaterialReading {
  heat::Material m = {};
  heat::Freezing freezing = {};
  std::vector<double> T = {}, conductivity = {}, specific_heat = {};  ///< of its table; SI
};

inline constexpr char const* material_format[] = {"libcure/material/1"};
inline constexpr char const* ground_format[] = {"libcure/ground/1"};

namespace detail::material {

using F = ModelFields<MaterialReading>;
using X = MaterialReading;
using List = std::vector<double>;
using units::Kind;

inline void rising(Reader& t, X& x) {
  auto const& T = x.T;
  for (std::size_t i = 1; i < T.size(); ++i) {
    if (!(T[i] > T[i - 1])) t.fail("temperature", shown(T[i]) + " K", "rising temperatures");
  }
  if (T.size() < 2 || T.size() > 50) {
    t.fail("temperature", std::to_string(T.size()) + " values", "2 to 50");
  }
}

/// Values of the table over a reference, one for each temperature. @throws InputError
inline heat::Curve curve(Reader& t, X const& x, std::string const& key, List values,
                         double reference) {
  if (!t.has(key)) return 1.0;
  if (values.size() != x.T.size()) {
    t.fail(key, std::to_string(values.size()) + " values",
           std::to_string(x.T.size()) + ", one for each temperature");
  }
  for (auto& v : values) v /= reference;
  return {x.T, std::move(values)};
}

inline void vary(Reader& t, X& x) {
  auto k = curve(t, x, "conductivity", std::move(x.conductivity), x.m.conductivity);
  auto c = curve(t, x, "specific_heat", std::move(x.specific_heat), x.m.specific_heat);
  if (!t.has("conductivity") && !t.has("specific_heat")) {
    t.fail("conductivity", "missing", "conductivity, specific_heat, or both");
  }
  x.m.varying =
      std::make_shared<heat::VaryingProperties const>(std::move(c), std::move(k), x.T.front());
}

inline constexpr Field<X> varying_fields[] = {
    F::quantities("temperature", Kind::temperature, temperature(),
                  [](X& x, List v) { x.T = std::move(v); })
        .means("Rising.")
        .elements(2, 50),
    F::check(rising),
    F::quantities("conductivity", Kind::conductivity, positive(),
                  [](X& x, List v) { x.conductivity = std::move(v); })
        .means("One for each temperature.")
        .elements(2, 50)
        .optional(),
    F::quantities("specific_heat", Kind::specific_heat, positive(),
                  [](X& x, List v) { x.specific_heat = std::move(v); })
        .means("One for each temperature.")
        .elements(2, 50)
        .optional(),
    F::check(vary),
    F::basis(),
    F::source(),
    F::where(),
    F::note()};

inline constexpr Object<X> varying_table =
    Object<X>(varying_fields,
              "Conductivity and specific heat at rising temperatures, linear between and constant "
              "beyond them.")
        .with_rules(
            R"([{"anyOf": [{"required": ["conductivity"]}, {"required": ["specific_heat"]}]}])");

inline constexpr Field<X> freezing_fields[] = {
    F::quantity("water", Kind::density, {.low = 0.0, .high = 1000.0},
                [](X& x, double v) { x.freezing.water = v; })
        .means("Mass of water per volume of ground."),
    F::quantity("start", Kind::temperature, {.low = 253.15, .high = zero_celsius},
                [](X& x, double v) { x.freezing.start = v; })
        .means("Warmest temperature with ice."),
    F::quantity("range", Kind::temperature_difference, {.low = 0.01, .high = 20.0},
                [](X& x, double v) { x.freezing.range = v; })
        .means("Over which it freezes."),
    F::quantity("conductivity", Kind::conductivity, positive(),
                [](X& x, double v) { x.freezing.conductivity = v; }),
    F::quantity("specific_heat", Kind::specific_heat, positive(),
                [](X& x, double v) { x.freezing.specific_heat = v; })};

inline constexpr Object<X> freezing_table{
    freezing_fields,
    "The water of wet ground that freezes, and what the ground is like then. Counts where a case "
    "sets ground.freezing."};

// What materials and grounds have alike.
inline constexpr Field<X>
    id = F::text("id", "a text", [](X&x, std::string t) { x.m.id = std::move(t); },
                 {.text = true, .pattern = "^[a-z0-9]+(-[a-z0-9]+)*$"})
             .means("Same as the file name without .json."),
    title = F::text("title", "a text", nullptr, not_blank), note = F::unread("note", not_blank),
    conductivity = F::quantity("conductivity", Kind::conductivity, positive(),
                               [](X&x, double v) { x.m.conductivity = v; }),
    density =
        F::quantity("density", Kind::density, positive(), [](X&x, double v) { x.m.density = v; }),
    specific_heat = F::quantity("specific_heat", Kind::specific_heat, positive(),
                                [](X&x, double v) { x.m.specific_heat = v; })
                        .means("At constant pressure."),
    temperature_limit =
        F::quantity("temperature_limit", Kind::temperature, temperature(),
                    [](X&x, double v) { x.m.temperature_limit = v; })
            .means("Temperature not to be passed; the note says what happens above it.")
            .with_note()
            .optional();

inline constexpr char const* material_kinds[] = {"pipe",     "bladder", "fibre",
                                                 "laminate", "fluid",   "ground"};
inline constexpr char const* ground_kinds[] = {"ground"};

inline constexpr Field<X> material_fields[] = {
    F::format(material_format),
    id,
    title,
    F::unread("kinds", {.text = true, .words = material_kinds, .list = 1}).elements(1, 0, true),
    note,
    conductivity,
    density,
    specific_heat,
    temperature_limit,
    F::object("temperature_table", varying_table).optional()};

inline constexpr Field<X> ground_fields[] = {
    F::format(ground_format),
    id,
    title,
    F::unread("kinds", {.text = true, .words = ground_kinds, .list = 1}).elements(1, 1),
    note,
    conductivity,
    density,
    specific_heat,
    temperature_limit,
    F::object("freezing", freezing_table).optional().and_then([](Reader&, X& x) {
      x.m.freezing = x.freezing;
    })};

}  // namespace detail::material

inline constexpr Object<MaterialReading> material_table{
    detail::material::material_fields,
    "Thermal properties of a pipe, bladder, fibre, laminate, fluid or ground material."};
inline constexpr Object<MaterialReading> ground_material_table{
    detail::material::ground_fields,
    "Thermal properties of the ground around a pipe. Title and note state moisture and dry "
    "density."};

/// Material or ground file. @throws InputError
inline heat::Material read_material(Json const& document, std::string const& file, bool ground) {
  MaterialReading x;
  Reader d(document, "", file);
  read_object(ground ? ground_material_table : material_table, d, x);
  return std::move(x.m);
}

}  // namespace cure::io
