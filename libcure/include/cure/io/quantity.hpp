#pragma once
/// Numbers of model files: each with its unit and where it comes from, turned into SI here.

#include <cstddef>
#include <string>
#include <vector>

#include "cure/io/reader.hpp"
#include "cure/units.hpp"

namespace cure::io {

namespace detail {

inline Range positive() { return {.low = 0.0, .above = true}; }
inline Range any() { return {}; }
inline Range fraction() { return {.low = 0.0, .high = 1.0}; }
inline Range temperature() { return {.low = 100.0, .high = 1500.0}; }

}  // namespace detail

/// What a number may rest on.
inline std::vector<std::string> const& provenance_bases() {
  static std::vector<std::string> const bases{"published", "transcribed", "from memory",
                                              "estimated", "assumption",  "measured"};
  return bases;
}

/// The keys that say where numbers of a model file come from. @throws InputError
inline void read_origin(Reader& q) {
  q.choice("basis", provenance_bases());
  q.text("source", "a key of references.bib, or \"none\"");
  for (auto const* note : {"where", "note"}) q.skip(note);
}

/// The same of a quantity, which may state the range of its value too. @throws InputError
inline void read_provenance(Reader& q) {
  read_origin(q);
  q.skip("range");
}

/// The unit under "unit". @throws InputError that lists those of the kind
inline units::Unit read_unit(Reader& q, units::Kind kind) {
  auto const name = q.text("unit", "a unit");
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

/// Reads a quantity object {"value", "unit", "basis", "source", ...} and returns it in SI.
/// @param si the range allowed, in SI
/// @throws InputError
inline double quantity(Reader& parent, std::string const& key, units::Kind kind, Range const& si) {
  auto q = parent.object(key);
  double const value = q.number("value", {});
  auto const unit = read_unit(q, kind);
  read_provenance(q);
  q.finish();
  auto const in_unit = [&](double limit) { return (limit - unit.offset) / unit.factor; };
  q.note_limits({.low = in_unit(si.low), .high = in_unit(si.high), .above = si.above});
  double const x = units::to_si(value, unit);
  if (!si.holds(x)) {
    q.fail("value", shown(value) + " " + std::string(unit.name), si.text() + " in SI units");
  }
  return x;
}

/// The same for a list {"values": [...], "unit"}, whose provenance stands beside it.
inline std::vector<double> quantities(Reader& parent, std::string const& key, units::Kind kind,
                                      Range const& si) {
  auto q = parent.object(key);
  auto list = q.numbers("values", {});
  auto const unit = read_unit(q, kind);
  q.finish();
  for (std::size_t i = 0; i < list.size(); ++i) {
    double const x = units::to_si(list[i], unit);
    if (!si.holds(x)) {
      q.fail("values[" + std::to_string(i) + "]", shown(list[i]) + " " + std::string(unit.name),
             si.text() + " in SI units");
    }
    list[i] = x;
  }
  return list;
}

}  // namespace cure::io
