#pragma once
/// Material and ground files, "libcure/material/1" and "libcure/ground/1".

#include <cstddef>
#include <memory>
#include <string>
#include <utility>

#include "cure/heat/material.hpp"
#include "cure/io/quantity.hpp"

namespace cure::io {

namespace detail {

/// "temperature_table": conductivity and specific heat at rising temperatures, constant beyond
/// them.
inline std::shared_ptr<heat::VaryingProperties const> read_temperature_table(
    Reader& material, heat::Material const& m) {
  auto t = material.object("temperature_table");
  auto const T = quantities(t, "temperature", units::Kind::temperature, temperature());
  for (std::size_t i = 1; i < T.size(); ++i) {
    if (!(T[i] > T[i - 1])) t.fail("temperature", shown(T[i]) + " K", "rising temperatures");
  }
  if (T.size() < 2 || T.size() > 50) {
    t.fail("temperature", std::to_string(T.size()) + " values", "2 to 50");
  }
  bool any = false;
  auto const curve = [&](char const* key, units::Kind kind, double reference) -> heat::Curve {
    if (!t.has(key)) return 1.0;
    any = true;
    auto values = quantities(t, key, kind, positive());
    if (values.size() != T.size()) {
      t.fail(key, std::to_string(values.size()) + " values",
             std::to_string(T.size()) + ", one for each temperature");
    }
    for (auto& x : values) x /= reference;
    return {T, std::move(values)};
  };
  auto k = curve("conductivity", units::Kind::conductivity, m.conductivity);
  auto c = curve("specific_heat", units::Kind::specific_heat, m.specific_heat);
  if (!any) t.fail("conductivity", "missing", "conductivity, specific_heat, or both");
  read_provenance(t);
  t.finish();
  return std::make_shared<heat::VaryingProperties const>(std::move(c), std::move(k), T.front());
}

/// "freezing": the water of a ground that freezes, and what the ground is like then.
inline heat::Freezing read_freezing(Reader& ground) {
  auto r = ground.object("freezing");
  heat::Freezing f;
  f.water = quantity(r, "water", units::Kind::density, {.low = 0.0, .high = 1000.0});
  f.start = quantity(r, "start", units::Kind::temperature, {.low = 253.15, .high = zero_celsius});
  f.range = quantity(r, "range", units::Kind::temperature_difference, {.low = 0.01, .high = 20.0});
  f.conductivity = quantity(r, "conductivity", units::Kind::conductivity, positive());
  f.specific_heat = quantity(r, "specific_heat", units::Kind::specific_heat, positive());
  r.finish();
  return f;
}

}  // namespace detail

/// Material or ground file. @throws InputError
inline heat::Material read_material(Json const& document, std::string const& file,
                                    std::string const& format) {
  using units::Kind;
  Reader d(document, "", file);
  expect_format(d, format);
  heat::Material m;
  m.id = d.text("id");
  d.text("title");
  d.skip("kinds");
  d.skip("note");
  m.conductivity = quantity(d, "conductivity", Kind::conductivity, detail::positive());
  m.density = quantity(d, "density", Kind::density, detail::positive());
  m.specific_heat = quantity(d, "specific_heat", Kind::specific_heat, detail::positive());
  if (d.has("temperature_limit")) {
    m.temperature_limit =
        quantity(d, "temperature_limit", Kind::temperature, detail::temperature());
  }
  bool const ground = format == "libcure/ground/1";
  if (ground && d.has("freezing")) m.freezing = detail::read_freezing(d);
  if (!ground && d.has("temperature_table")) m.varying = detail::read_temperature_table(d, m);
  d.finish();
  return m;
}

}  // namespace cure::io
