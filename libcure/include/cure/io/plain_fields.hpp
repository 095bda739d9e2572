#pragma once
/// Fields of documents whose meaning another layer gives: those that it reads, which are checked
/// and filled in by their tables (filled_document.hpp), and those that only go out.

#include <cstddef>

#include "cure/io/fields.hpp"

namespace cure::io::plain {

/// Nothing is read into.
struct Nothing {};
using F = Field<Nothing>;
using Keys = Object<Nothing>;
template <class X>
using Kind = KindOf<X>;

constexpr F field(char const* key, Shape shape) {
  F f{};
  f.key = key;
  f.shape = shape;
  f.required = true;
  return f;
}
constexpr F number(char const* key, Range range = {}) {
  return field(key, {.number = true, .range = range});
}
constexpr F whole(char const* key, Range range = {}) {
  return field(key, {.number = true, .range = range, .multiple_of = 1});
}
/// A text that is not blank.
constexpr F text(char const* key, char const* pattern = "\\S") {
  return field(key, {.text = true, .pattern = pattern});
}
/// Any text.
constexpr F said(char const* key) { return field(key, {.text = true}); }
constexpr F word(char const* key, Words words) {
  return field(key, {.text = true, .words = words});
}
constexpr F flag(char const* key) { return field(key, {.flag = true}); }
constexpr F object(char const* key, Keys const& table) { return field(key, {.object = &table}); }
/// One that may be left out; then one whose keys are all left out.
constexpr F object_or_empty(char const* key, Keys const& table) {
  auto f = object(key, table).optional();
  f.read_anyway = true;
  return f;
}
inline constexpr Shape anything{.anything = true};
/// An object of any keys, each with a value of that shape.
constexpr Keys others(Shape const& values) {
  Keys t{};
  t.entry = nullptr;
  t.others = &values;
  return t;
}

/// A list of what a field may hold.
constexpr F list(F const& one, std::size_t least = 0, std::size_t most = 0) {
  auto f = one;
  ++f.shape.list;
  f.shape.least = least;
  f.shape.most = most;
  return f;
}
constexpr F objects(char const* key, Keys const& table, std::size_t least = 0,
                    std::size_t most = 0) {
  return list(object(key, table), least, most);
}
/// May be something else too.
constexpr F or_else(F const& one, Shape const& other) {
  auto f = one;
  f.shape.or_else = &other;
  return f;
}

}  // namespace cure::io::plain
