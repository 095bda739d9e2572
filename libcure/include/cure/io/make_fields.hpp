#pragma once
/// The kinds of fields that tables are made of: numbers, words, texts, lists, objects. What is read
/// is handed to the reading by functions without state, so that tables are constant data.

#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/read_object.hpp"

namespace cure::io {

/// @throws InputError
template <class X>
void read_number(Field<X> const& f, Reader& r, X& x) {
  auto const range = f.limits == nullptr ? f.shape.range : f.measure.of(f.limits(x));
  f.set_number(x, f.measure.si(r.number(f.key, range)));
}

/// @throws InputError
template <class X>
void read_whole(Field<X> const& f, Reader& r, X& x) {
  double const n = r.number(f.key, f.shape.range), step = f.shape.multiple_of;
  if (n != step * std::floor(n / step)) {
    r.fail(f.key, shown(n),
           (step == 2.0 ? "an even whole number, " : "a whole number, ") + f.shape.range.text());
  }
  f.set_count(x, static_cast<std::size_t>(n));
}

/// @throws InputError
template <class X>
void read_word(Field<X> const& f, Reader& r, X& x) {
  auto const i = r.choice(f.key, f.shape.words);
  if (f.set_count != nullptr) f.set_count(x, i);
}

/// @throws InputError
template <class X>
void read_text(Field<X> const& f, Reader& r, X& x) {
  auto text = r.text(f.key, f.allowed);
  if (f.set_text != nullptr) f.set_text(x, std::move(text));
}

/// @throws InputError
template <class X>
void read_inner(Field<X> const& f, Reader& r, X& x) {
  auto inner = r.object_or_empty(f.key);
  read_object(*f.table, inner, x);
}

/// @throws InputError
template <class X>
void read_list(Field<X> const& f, Reader& r, X& x) {
  auto list = r.objects(f.key);
  if (list.empty() && detail::stated(f.allowed)) r.fail(f.key, "an empty list", f.allowed);
  for (auto& element : list) {
    read_object(*f.table, element, x);
    f.each(element, x);
  }
}

/// Makes the fields of readings of type X.
template <class X>
struct Of {
  using Set = void (*)(X&, double);

  /// A field with a way of its own to be read.
  static constexpr Field<X> field(char const* key, Shape shape,
                                  void (*read)(Field<X> const&, Reader&, X&)) {
    Field<X> f{};
    f.key = key;
    f.shape = shape;
    f.required = true;
    f.read = read;
    return f;
  }

  /// The "format" that a document must have, the one word of a list.
  static constexpr Field<X> format(Words name) {
    return field("format", {.text = true, .words = name},
                 [](Field<X> const& f, Reader& r, X&) { expect_format(r, f.shape.words[0]); });
  }

  /// A check of what was read so far; it has no key.
  static constexpr Field<X> check(Action<X> test) {
    Field<X> f{};
    f.check = test;
    return f;
  }

  /// @param si the range allowed, in SI
  static constexpr Field<X> number(char const* key, Range si, Measure unit, Set set) {
    auto f = field(key, {.number = true, .range = unit.of(si), .unit = unit.unit}, read_number<X>);
    f.measure = unit;
    f.set_number = set;
    return f;
  }
  /// A whole number, a multiple of `step`.
  static constexpr Field<X> whole(char const* key, Range range, void (*set)(X&, std::size_t),
                                  unsigned step = 1) {
    auto f = field(key, {.number = true, .range = range, .multiple_of = step}, read_whole<X>);
    f.set_count = set;
    return f;
  }
  static constexpr Field<X> numbers(char const* key, Range range,
                                    void (*set)(X&, std::vector<double>)) {
    auto f = field(key, {.number = true, .range = range, .list = 1, .least = 1},
                   [](Field<X> const& self, Reader& r, X& x) {
                     self.set_numbers(x, r.numbers(self.key, self.shape.range));
                   });
    f.set_numbers = set;
    return f;
  }

  /// @param shape of a text that a schema restricts further
  static constexpr Field<X> text(char const* key, char const* allowed, void (*set)(X&, std::string),
                                 Shape shape = {.text = true}) {
    auto f = field(key, shape, read_text<X>);
    f.allowed = allowed;
    f.set_text = set;
    return f;
  }
  static constexpr Field<X> texts(char const* key, void (*set)(X&, std::vector<std::string>),
                                  Words words = {}) {
    auto f =
        field(key, {.text = true, .words = words, .list = 1},
              [](Field<X> const& self, Reader& r, X& x) { self.set_texts(x, r.texts(self.key)); });
    f.set_texts = set;
    return f;
  }
  /// A text that must be one of a list; `set` gets its place in it.
  static constexpr Field<X> word(char const* key, Words words, void (*set)(X&, std::size_t)) {
    auto f = field(key, {.text = true, .words = words}, read_word<X>);
    f.set_count = set;
    return f;
  }
  static constexpr Field<X> flag(char const* key, void (*set)(X&, bool)) {
    auto f = field(key, {.flag = true}, [](Field<X> const& self, Reader& r, X& x) {
      self.set_flag(x, r.flag(self.key));
    });
    f.set_flag = set;
    return f;
  }
  /// For people: the reader takes it or leaves it, the schema wants it where it is required.
  static constexpr Field<X> unread(char const* key, Shape shape = {.text = true}) {
    return field(key, shape, [](Field<X> const&, Reader&, X&) {});
  }

  static constexpr Field<X> object(char const* key, Object<X> const& table) {
    auto f = field(key, {.object = &table}, [](Field<X> const& self, Reader& r, X& x) {
      r.at(self.key, "an object {...}");
      read_inner(self, r, x);
    });
    f.table = &table;
    return f;
  }
  /// An object that may be left out; then one whose keys are all left out.
  static constexpr Field<X> object_or_empty(char const* key, Object<X> const& table) {
    auto f = object(key, table);
    f.read = read_inner<X>;
    f.read_anyway = true;
    return f.optional();
  }
  /// A list of objects. @param one called after each of them, with its reader
  /// @param at_least what is wanted of an empty one; empty where the table does not mind
  static constexpr Field<X> objects(char const* key, Object<X> const& table, Action<X> one,
                                    char const* at_least = "") {
    auto f = field(key, {.object = &table, .list = 1, .least = 1}, read_list<X>);
    f.table = &table;
    f.each = one;
    f.allowed = at_least;
    return f;
  }
};

}  // namespace cure::io
