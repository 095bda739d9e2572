#pragma once
/// The one routine that reads an object by its table.

#include <cstddef>
#include <string>
#include <vector>

#include "cure/io/fields.hpp"

namespace cure::io {

namespace detail {

inline bool stated(char const* text) { return *text != '\0'; }

/// Whether the key beside which a field may be there is as it must be.
inline bool with_it(Entry const& f, Reader& r) {
  return stated(f.only_with_word) ? r.is_word(f.only_with_key, f.only_with_word)
                                  : r.has(f.only_with_key);
}

/// Whether a field may be there, by the keys beside it. @throws InputError where it is and may not
inline bool may_be_there(Entry const& f, Reader& r, bool given) {
  std::string allowed;
  if (stated(f.unless) && r.has(f.unless)) {
    allowed = std::string("not together with ") + f.unless + f.unless_hint;
  } else if (stated(f.only_with_key) && !with_it(f, r)) {
    bool const word = stated(f.only_with_word);
    allowed = std::string("only with ") + f.only_with_key +
              (word ? " \"" + std::string(f.only_with_word) + "\"" : "");
  }
  bool const may_be = allowed.empty();
  if (given && stated(f.instead_of) && r.has(f.instead_of)) {
    allowed = std::string("not together with ") + f.instead_of;
  }
  if (given && !allowed.empty()) r.fail(f.key, "given", allowed);
  return may_be;
}

inline std::string default_words(Default const& d) {
  return shown(d.value, 3) + (stated(d.why) ? " (" + std::string(d.why) + ")" : "");
}

template <class X>
void take_default(Field<X> const& f, Reader& r, X& x) {
  auto const d = f.has_default ? Default{f.default_value, f.otherwise} : f.default_of(x);
  x.by_default(r.path(f.key), default_words(d));
  double const si = f.measure.si(d.value);
  f.set_number != nullptr ? f.set_number(x, si) : f.set_schedule(x, si);
}

template <class X>
void read_field(Field<X> const& f, Reader& r, X& x) {
  if (!stated(f.key)) return f.check(r, x);
  bool const given = r.has(f.key);
  if (!may_be_there(f, r, given)) return;
  if (given || f.required || f.read_anyway) {
    if (stated(f.missing)) r.at(f.key, f.missing);
    f.read(f, r, x);
    if (f.then != nullptr) f.then(r, x);
  } else if (f.has_default || f.default_of != nullptr) {
    if constexpr (requires { x.by_default("", ""); }) take_default(f, r, x);
  } else if (f.left_out != nullptr) {
    f.left_out(r, x);
  }
}

/// Which kind an object is of. @throws InputError
inline std::size_t read_kind(ObjectShape const& object, Reader& r) {
  if (stated(object.second_kind_with) && !r.has(object.kind_key)) {
    return r.has(object.second_kind_with) ? 1 : 0;
  }
  std::vector<char const*> words;
  for (std::size_t i = 0; i < object.kind_count; ++i) words.push_back(object.kind(object, i).word);
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
