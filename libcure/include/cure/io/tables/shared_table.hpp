#pragma once
/// What several of the documents that go out have.

#include "cure/io/plain_fields.hpp"

namespace cure::io::tables {

using namespace plain;

/// A number, or null where there is none.
constexpr F maybe(char const* key) { return number(key).or_null(); }
/// A time or an error of one [min]; null is never, or not known.
constexpr F never(char const* key) { return number(key, {.low = 0.0}).or_null(); }
constexpr F share(char const* key) { return number(key, {.low = 0.0, .high = 1.0}); }

inline constexpr char const *release_states[] = {"reached",       "not_in_hold",
                                                 "vitrified",     "gelled_before_held",
                                                 "no_held_stage", "outside_model"},
                            *status_words[] = {"ok", "wait", "stop"};

inline constexpr F coded_fields[] = {said("code"), said("text")};
inline constexpr Keys coded{coded_fields};

inline constexpr Keys any_object = Keys{}.with_others();
inline constexpr Keys by_path = any_object.with_rules(R"([{"minProperties": 1}])");
inline constexpr F changes =
    object("changes", by_path)
        .optional()
        .means("What was changed in the case file, value by path; absent when nothing was.");

}  // namespace cure::io::tables
