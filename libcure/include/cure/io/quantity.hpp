#pragma once
/// Numbers of model files: each with its unit and where it comes from, turned into SI here.

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/make_fields.hpp"
#include "cure/units.hpp"

namespace cure::io {

namespace detail {

constexpr Range positive() { return {.low = 0.0, .above = true}; }
constexpr Range any() { return {}; }
constexpr Range fraction() { return {.low = 0.0, .high = 1.0}; }
constexpr Range temperature() { return {.low = 100.0, .high = 1500.0}; }

inline constexpr Shape not_empty{.text = true, .pattern = "."};
inline constexpr Shape not_blank{.text = true, .pattern = "\\S"};
inline constexpr Shape citation{.text = true, .pattern = "^[A-Za-z][A-Za-z0-9_:-]*$"};

}  // namespace detail

/// What a number may rest on.
inline constexpr char const* provenance_bases[] = {"published", "transcribed", "from memory",
                                                   "estimated", "assumption",  "measured"};

/// The fields of model files.
template <class X>
struct ModelFields : Of<X> {
  using Set = void (*)(X&, double);
  using F = Of<X>;

  // The keys that say where numbers of a model file come from.
  static constexpr Field<X> basis() { return F::word("basis", provenance_bases, nullptr); }
  static constexpr Field<X> source() {
    return F::text("source", "a key of references.bib, or \"none\"", nullptr, detail::citation)
        .means("Key of references.bib, or none.");
  }
  static constexpr Field<X> where() { return F::unread("where", detail::not_blank); }
  static constexpr Field<X> note() { return F::unread("note", detail::not_blank).optional(); }

  /// A quantity. @param si the range allowed, in SI
  static constexpr Field<X> quantity(char const* key, units::Kind kind, Range si, Set set);
  /// A list {"values": [...], "unit"}, whose provenance stands beside it.
  static constexpr Field<X> quantities(char const* key, units::Kind kind, Range si,
                                       void (*set)(X&, std::vector<double>));
};

/// A number of a model file as it stands there.
struct QuantityReading {
  double value = 0.0;
  std::string unit = {};
};

namespace detail {

/// What a number without a source needs, and one that was carried over.
inline constexpr char const* origin_rules = R"([
  {"if": {"properties": {"source": {"const": "none"}}, "required": ["source"]},
   "then": {"properties": {"basis": {"enum": ["estimated", "assumption", "from memory"]}},
            "required": ["note"]}},
  {"if": {"properties": {"basis": {"const": "transcribed"}}, "required": ["basis"]},
   "then": {"required": ["note"]}}])";

using QuantityFields = ModelFields<QuantityReading>;

/// Names of all units, each once.
struct UnitNames {
  char const* names[units::table.size()] = {};
  std::size_t count = 0;

  constexpr UnitNames() {
    for (auto const& u : units::table) {
      bool known = false;
      for (std::size_t i = 0; i < count; ++i) known = known || u.name == names[i];
      if (!known) names[count++] = u.name.data();
    }
  }
};
inline constexpr UnitNames unit_names;

// Model files that come with the library say where of each number.
inline constexpr Field<QuantityReading> quantity_fields[] = {
    QuantityFields::number("value", {}, {}, [](QuantityReading& q, double v) { q.value = v; }),
    QuantityFields::text("unit", "a unit",
                         [](QuantityReading& q, std::string u) { q.unit = std::move(u); },
                         {.text = true, .words = {unit_names.names, unit_names.count}}),
    QuantityFields::basis(),
    QuantityFields::source(),
    QuantityFields::where(),
    QuantityFields::note(),
    QuantityFields::unread("range", {.number = true, .list = 1})
        .elements(2, 2)
        .means("Ascending, and holds the value.")
        .optional()};

/// The unit of that name. @throws InputError that lists those of the kind
inline units::Unit find_unit(Reader& q, std::string const& name, units::Kind kind) {
  auto const unit = units::find(name, kind);
  if (!unit) {
    std::string list;
    for (auto const& u : units::table) {
      if (u.kind == kind) list += (list.empty() ? "" : ", ") + std::string(u.name);
    }
    q.fail("unit", "\"" + name + "\"", "one of " + list);
  }
  return *unit;
}

/// That of a document that was read before, in SI; nothing for what is to be read in full, as where
/// it must be refused.
inline std::optional<double> known_quantity(Reader& parent, std::string const& key,
                                            units::Kind kind, Range const& si) {
  if (!parent.was_read_before() || !parent.has(key)) return std::nullopt;
  auto const& q = parent.at(key, "");
  auto const unit = units::find(q.at("unit").get_ref<std::string const&>(), kind);
  if (!unit) return std::nullopt;
  double const x = units::to_si(q.at("value").get<double>(), *unit);
  return si.holds(x) ? std::optional(x) : std::nullopt;
}

/// To SI. @throws InputError for a value out of range
inline double checked_si(Reader& q, std::string const& key, double value, units::Unit const& unit,
                         Range const& si) {
  double const x = units::to_si(value, unit);
  if (!si.holds(x)) {
    q.fail(key, shown(value) + " " + std::string(unit.name), si.text() + " in SI units");
  }
  return x;
}

}  // namespace detail

/// A quantity {"value", "unit", "basis", "source", ...}.
inline constexpr Object<QuantityReading> quantity_table =
    Object<QuantityReading>(
        detail::quantity_fields,
        "One number in its author's own unit, with its provenance. Not expressible here and "
        "checked "
        "by tests of the model files: range is ascending and holds the value; source is a key of "
        "references.bib.")
        .with_rules(detail::origin_rules);

/// Reads a quantity object and returns it in SI.
/// @param si the range allowed, in SI
/// @throws InputError
inline double quantity(Reader& parent, std::string const& key, units::Kind kind, Range const& si) {
  if (auto const known = detail::known_quantity(parent, key, kind, si)) return *known;
  auto q = parent.object(key);
  QuantityReading given;
  read_object(quantity_table, q, given);
  auto const unit = detail::find_unit(q, given.unit, kind);
  auto const in_unit = [&](double limit) { return (limit - unit.offset) / unit.factor; };
  q.note_limits({.low = in_unit(si.low), .high = in_unit(si.high), .above = si.above});
  return detail::checked_si(q, "value", given.value, unit, si);
}

/// The same for a list {"values": [...], "unit"}, whose provenance stands beside it.
inline std::vector<double> quantities(Reader& parent, std::string const& key, units::Kind kind,
                                      Range const& si) {
  auto q = parent.object(key);
  auto list = q.numbers("values", {});
  auto const unit = detail::find_unit(q, q.text("unit", "a unit"), kind);
  q.finish();
  for (std::size_t i = 0; i < list.size(); ++i) {
    list[i] = detail::checked_si(q, "values[" + std::to_string(i) + "]", list[i], unit, si);
  }
  return list;
}

template <class X>
constexpr Field<X> ModelFields<X>::quantity(char const* key, units::Kind kind, Range si, Set set) {
  auto f = F::field(key, {.range = si, .quantity = true, .kind = kind},
                    [](Field<X> const& self, Reader& r, X& x) {
                      auto const range = self.limits == nullptr ? self.shape.range : self.limits(x);
                      self.set_number(x, io::quantity(r, self.key, self.shape.kind, range));
                    });
  f.set_number = set;
  return f;
}

template <class X>
constexpr Field<X> ModelFields<X>::quantities(char const* key, units::Kind kind, Range si,
                                              void (*set)(X&, std::vector<double>)) {
  auto f = F::field(key, {.range = si, .quantity = true, .kind = kind, .list = 1},
                    [](Field<X> const& self, Reader& r, X& x) {
                      auto const& s = self.shape;
                      self.set_numbers(x, io::quantities(r, self.key, s.kind, s.range));
                    });
  f.set_numbers = set;
  return f;
}

}  // namespace cure::io
