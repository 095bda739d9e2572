#pragma once
/// Tables of fields, and the one routine that reads an object by its table. A Field says what a key
/// may hold (an Entry) and what to do with it in a reading of type X, which gathers what the
/// document comes to and has `by_default(path, text)` for what was left out. Fields are read in the
/// order of their table; then keys that it does not have are refused. make_fields.hpp makes them.

#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "cure/io/reader.hpp"
#include "cure/io/shape.hpp"
#include "cure/numerics/schedule.hpp"

namespace cure::io {

/// A unit of documents: SI value = value * factor + offset.
struct Measure {
  char const* unit = "";
  double factor = 1.0, offset = 0.0;

  [[nodiscard]] constexpr double si(double value) const { return value * factor + offset; }
  /// A range in SI in this unit. Twelve digits, so that 0.06 m are 60 mm.
  [[nodiscard]] constexpr Range of(Range range) const {
    if (factor == 1.0 && offset == 0.0) return range;
    return {.low = twelve_digits((range.low - offset) / factor),
            .high = twelve_digits((range.high - offset) / factor),
            .above = range.above};
  }
  /// std::round and the like are no constant expressions yet.
  static constexpr double twelve_digits(double x) {
    double const size = x < 0.0 ? -x : x;
    if (size == 0.0 || size > 1e12) return x;
    double scale = 1.0;
    while (size * scale < 1e11) scale *= 10.0;
    auto const whole = static_cast<long long>(size * scale + 0.5);
    return (x < 0.0 ? -1.0 : 1.0) * static_cast<double>(whole) / scale;
  }
};

/// What serves for a number that was left out, in the document's unit, and why.
struct Default {
  double value;
  char const* why;
};

/// Something to do in a reading, with the object that is read.
template <class X>
using Action = void (*)(Reader&, X&);

template <class X>
struct Object;

template <class X>
struct Field : Entry {
  void (*read)(Field const&, Reader&, X&) = nullptr;  ///< the value
  Action<X> check = nullptr;                          ///< of a field without a key: what to check
  Action<X> then = nullptr;                           ///< once the value has been read
  Action<X> left_out = nullptr;                       ///< what serves in its place
  char const* missing = "";                           ///< what would be accepted where nothing is
  // What the value is for, by its kind.
  void (*set_number)(X&, double) = nullptr;
  void (*set_schedule)(X&, numerics::Schedule) = nullptr;
  void (*set_count)(X&, std::size_t) = nullptr;  ///< a whole number, or the place of a word
  void (*set_text)(X&, std::string) = nullptr;
  void (*set_flag)(X&, bool) = nullptr;
  void (*set_numbers)(X&, std::vector<double>) = nullptr;
  void (*set_texts)(X&, std::vector<std::string>) = nullptr;
  Measure measure = {};                       ///< of a number
  Range (*limits)(X const&) = nullptr;        ///< in SI, where they depend on what was read before
  Default (*default_of)(X const&) = nullptr;  ///< the same of the default
  char const* allowed = "";                   ///< for a text, and for lists that must not be empty
  Object<X> const* table = nullptr;           ///< of an object, or of the elements of a list
  Action<X> each = nullptr;                   ///< after each element of a list
  bool read_anyway = false;  ///< left out, it is read as an object whose keys are left out

  constexpr Field means(char const* text) const {
    auto f = *this;
    f.words = text;
    return f;
  }
  constexpr Field optional() const {
    auto f = *this;
    f.required = false;
    return f;
  }
  /// A number that serves when it is left out, and why.
  constexpr Field or_number(double value, char const* why) const {
    auto f = or_else(why);
    f.has_default = true;
    f.default_value = value;
    return f;
  }
  /// The same where it depends on what was read before.
  /// @param text the default in words
  constexpr Field or_number(Default (*value)(X const&), char const* text) const {
    auto f = or_else(text);
    f.default_of = value;
    return f;
  }
  constexpr Field or_else(char const* text, Action<X> action = nullptr) const {
    auto f = optional();
    f.otherwise = text;
    f.left_out = action;
    return f;
  }
  /// Refused beside another key, which takes its place.
  constexpr Field unless_given(char const* other, char const* hint = "") const {
    auto f = *this;
    f.unless = other;
    f.unless_hint = hint;
    return f;
  }
  /// Takes the place of another key, beside which it is refused; that key is `unless_given` it.
  constexpr Field instead(char const* other) const {
    auto f = *this;
    f.instead_of = other;
    return f;
  }
  constexpr Field only_with(char const* other, char const* word) const {
    auto f = *this;
    f.only_with_key = other;
    f.only_with_word = word;
    return f;
  }
  constexpr Field if_missing(char const* text) const {
    auto f = *this;
    f.missing = text;
    return f;
  }
  constexpr Field and_then(Action<X> action) const {
    auto f = *this;
    f.then = action;
    return f;
  }
  /// In SI, inside what the table says.
  constexpr Field within(Range (*range)(X const&)) const {
    auto f = *this;
    f.limits = range;
    return f;
  }
  /// Of a quantity: not without a note.
  constexpr Field with_note() const {
    auto f = *this;
    f.shape.noted = true;
    return f;
  }
  constexpr Field elements(std::size_t at_least, std::size_t at_most = 0,
                           bool differ = false) const {
    auto f = *this;
    f.shape.least = at_least;
    f.shape.most = at_most;
    f.shape.unique = differ;
    return f;
  }
};

/// A kind of an object.
template <class X>
struct KindOf {
  char const* word;
  Object<X> const* table;
};

/// A table of fields; or of kinds, of which a word chooses one.
template <class X>
struct Object : ObjectShape {
  Field<X> const* fields = nullptr;
  KindOf<X> const* kinds = nullptr;
  void (*chosen)(X&, std::size_t) = nullptr;

  constexpr Object() = default;
  template <std::size_t n>
  constexpr explicit Object(Field<X> const (&list)[n], char const* text = "") : fields(list) {
    words = text;
    size = n;
    entry = [](ObjectShape const& o, std::size_t i) -> Entry const& {
      return static_cast<Object const&>(o).fields[i];
    };
  }
  template <std::size_t n>
  constexpr Object(char const* key, KindOf<X> const (&list)[n], void (*choice)(X&, std::size_t),
                   char const* text = "")
      : kinds(list), chosen(choice) {
    words = text;
    kind_key = key;
    kind_count = n;
    kind = [](ObjectShape const& o, std::size_t i) -> Kind {
      auto const& k = static_cast<Object const&>(o).kinds[i];
      return {k.word, k.table};
    };
  }
  template <std::size_t n>
  constexpr Object with_rules(Json (*const (&list)[n])()) const {
    auto o = *this;
    o.rules = list;
    return o;
  }
  /// Other keys are taken too.
  constexpr Object with_others() const {
    auto o = *this;
    o.open = true;
    return o;
  }
  /// Fields that all kinds have, read after theirs.
  template <std::size_t n>
  constexpr Object beside(Field<X> const (&list)[n]) const {
    auto o = Object(list, words);
    o.kinds = kinds;
    o.kind_key = kind_key;
    o.kind_count = kind_count;
    o.kind = kind;
    o.chosen = chosen;
    return o;
  }
  constexpr Object named(char const* text) const {
    auto o = *this;
    o.name = text;
    return o;
  }
  /// Where the word may be left out: it then is the second kind where a key is there, else the
  /// first. @param text the same in words
  constexpr Object first_kind_unless(char const* key, char const* text) const {
    auto o = *this;
    o.second_kind_with = key;
    o.kind_left_out = text;
    return o;
  }
};

namespace detail {

inline bool stated(char const* text) { return *text != '\0'; }

template <class X>
void read_field(Field<X> const& f, Reader& r, X& x) {
  if (!stated(f.key)) return f.check(r, x);
  bool const given = r.has(f.key);
  if (stated(f.unless) && r.has(f.unless)) {
    if (given) r.fail(f.key, "given", std::string("not together with ") + f.unless + f.unless_hint);
    return;
  }
  if (stated(f.only_with_key) && !r.is_word(f.only_with_key, f.only_with_word)) {
    if (!given) return;
    r.fail(f.key, "given",
           std::string("only with ") + f.only_with_key + " \"" + f.only_with_word + "\"");
  }
  if (given && stated(f.instead_of) && r.has(f.instead_of)) {
    r.fail(f.key, "given", std::string("not together with ") + f.instead_of);
  }
  if (given || f.required || f.read_anyway) {
    if (stated(f.missing)) r.at(f.key, f.missing);
    f.read(f, r, x);
    if (f.then != nullptr) f.then(r, x);
  } else if (f.has_default || f.default_of != nullptr) {
    if constexpr (requires { x.by_default("", ""); }) {
      auto const d = f.has_default ? Default{f.default_value, f.otherwise} : f.default_of(x);
      x.by_default(r.path(f.key),
                   shown(d.value, 3) + (stated(d.why) ? " (" + std::string(d.why) + ")" : ""));
      double const si = f.measure.si(d.value);
      f.set_number != nullptr ? f.set_number(x, si) : f.set_schedule(x, si);
    }
  } else if (f.left_out != nullptr) {
    f.left_out(r, x);
  }
}

/// Which kind an object is of. @throws InputError
template <class X>
std::size_t read_kind(Object<X> const& object, Reader& r) {
  if (stated(object.second_kind_with) && !r.has(object.kind_key)) {
    return r.has(object.second_kind_with) ? 1 : 0;
  }
  std::vector<char const*> words;
  for (std::size_t i = 0; i < object.kind_count; ++i) words.push_back(object.kinds[i].word);
  return r.choice(object.kind_key, Words(words));
}

}  // namespace detail

/// Reads an object by its table. @throws InputError
template <class X>
void read_object(Object<X> const& object, Reader& r, X& x) {
  auto const read = [&](Object<X> const& table) {
    for (std::size_t i = 0; i < table.size; ++i) detail::read_field(table.fields[i], r, x);
  };
  if (object.kind_count > 0) {
    auto const kind = detail::read_kind(object, r);
    if (object.chosen != nullptr) object.chosen(x, kind);
    read(*object.kinds[kind].table);
  }
  read(object);
  r.finish();
}

}  // namespace cure::io
