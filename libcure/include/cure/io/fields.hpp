#pragma once
/// Tables of fields, which read_object.hpp reads by. A Field says what a key
/// may hold (an Entry) and what to do with it in a reading of type X, which gathers what the
/// document comes to and has `by_default(path, text)` for what was left out. Fields are read in the
/// order of their table; then keys that it does not have are refused. make_fields.hpp makes them.

#include <cstddef>
#include <string>
#include <vector>

#include "cure/io/measure.hpp"
#include "cure/io/reader.hpp"
#include "cure/io/shape.hpp"
#include "cure/numerics/schedule.hpp"

namespace cure::io {

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
  /// Required, by a check of its own.
  constexpr Field needed() const {
    auto f = *this;
    f.required = true;
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
  constexpr Field or_null() const {
    auto f = *this;
    f.shape.null = true;
    return f;
  }
  /// A word that serves when it is left out.
  constexpr Field or_word(char const* word) const {
    auto f = optional();
    f.default_word = word;
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
  constexpr Object with_rules(char const* json) const {
    auto o = *this;
    o.rules = json;
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
  constexpr Object with_comments() const {
    auto o = *this;
    o.comments = true;
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

}  // namespace cure::io
