#pragma once
/// What a document may hold, as constant data: objects with their keys, and for each key the values
/// it may have, its unit, default and words. The readers read by it (fields.hpp); JSON Schemas
/// (schema.hpp) and the reference page for users (reference.hpp) are made from it.

#include <cstddef>
#include <nlohmann/json.hpp>
#include <span>

#include "cure/io/json_type.hpp"
#include "cure/range.hpp"
#include "cure/units.hpp"

namespace cure::io {

using Words = std::span<char const* const>;

struct ObjectShape;

/// A table of points, {place: [...], "value": [...]}.
struct PointShape {
  char const* place;
  Range range;  ///< of the places
  char const* words;
  char const* before;  ///< what the place before a place is called
  char const* each;    ///< what there is a value for
};

/// What a value may be. Each JSON type that it may have has its own part here: a value that may be
/// a number, a table or a word has three.
struct Shape {
  bool number = false;
  Range range = {};          ///< of the number, in the document's unit; of a quantity in SI
  char const* unit = "";     ///< of the number, for people
  unsigned multiple_of = 0;  ///< whole numbers only, multiples of this
  bool flag = false;         ///< true or false
  bool text = false;
  Words words = {};          ///< what the text must be one of
  char const* pattern = "";  ///< what the text must match
  ObjectShape const* object = nullptr;
  PointShape const* points = nullptr;  ///< whose values are in `range`
  bool quantity = false;               ///< a number of a model file, with unit and provenance,
  units::Kind kind = {};               ///< of this kind
  bool noted = false;                  ///< a quantity that must have a note
  unsigned list = 0;                   ///< lists of all this; 2: lists of lists
  std::size_t least = 0, most = 0;     ///< elements of a list; 0 for any number
  bool unique = false;                 ///< whether the elements of a list differ
  // Of documents whose meaning another layer gives, and of those that only go out.
  bool null = false;               ///< null too; of a list, its elements
  bool anything = false;           ///< any value
  bool power_of_two = false;       ///< of a whole number
  char const* document = "";       ///< an object whose schema is this file
  char const* allowed = "";        ///< what to say of all that, for people
  Shape const* or_else = nullptr;  ///< another that it may be instead
};

/// A key of an object.
struct Entry {
  char const* key = "";  ///< empty: a check, which has none
  Shape shape = {};
  char const* words = "";  ///< for people
  bool required = false;
  char const* otherwise = "";  ///< what serves when it is left out, for people;
  bool has_default = false;    ///< where it is this number, why
  double default_value = 0.0;
  char const* default_word = "";    ///< a word that serves
  bool read_anyway = false;         ///< left out, it is read as an object whose keys are left out
  char const* unless = "";          ///< key that takes its place
  char const* unless_hint = "";     ///< what to say of that key
  char const* instead_of = "";      ///< key whose place it takes
  char const* only_with_key = "";   ///< it may only be given where this key
  char const* only_with_word = "";  ///< is this word; empty: is there
};

/// An object: the keys it may have, and what they must be together.
struct ObjectShape {
  /// A kind of the object, which a word chooses.
  struct Kind {
    char const* word;
    ObjectShape const* object;
  };

  char const* words = "";
  char const* name = "";          ///< under which a schema has it once; empty: in place
  bool open = false;              ///< whether it may have other keys too
  Shape const* others = nullptr;  ///< what those may hold; null: anything
  bool comments = false;          ///< whether keys that begin with // are comments
  /// Schemas, a list in JSON, of what the checks of the reader ask of several keys together.
  char const* rules = "[]";
  char const* kind_key = "";  ///< whose word says the kind; empty: there are none
  /// What the kind is where the word is left out, for people; and what has to be there for it to be
  /// the second. Empty where the word must be there.
  char const* kind_left_out = "";
  char const* second_kind_with = "";
  std::size_t size = 0;
  std::size_t kind_count = 0;
  Entry const& (*entry)(ObjectShape const&, std::size_t) = nullptr;
  Kind (*kind)(ObjectShape const&, std::size_t) = nullptr;
};

}  // namespace cure::io
