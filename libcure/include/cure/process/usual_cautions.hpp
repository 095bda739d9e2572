#pragma once
/// Cautions that hold whatever the times: pages have them in a few words, and every front repeats
/// them.

#include <algorithm>
#include <array>
#include <string_view>

#include "cure/arithmetic.hpp"

namespace cure::process {

struct UsualCaution {
  char const* code;      ///< of Caution
  char const* in_short;  ///< empty: it stands whole among those of the job
};

inline constexpr std::array usual_caution_words{
    UsualCaution{"model_estimated", ""},
    UsualCaution{
        "criterion_is_assumed",
        "the resin maker's data, local codes and licensed practice come first, for no standard "
        "gives a release criterion"},
    UsualCaution{"mixed_mass", "mixed resin in bulk heats itself, may smoke or burn"},
    UsualCaution{"amine", "amine hardener: gloves, eye protection, fresh air"},
    UsualCaution{"isocyanate", "isocyanate: supplied air where its maker says so"},
    UsualCaution{"styrene", "styrene: ventilate, measure, no sparks"},
    UsualCaution{"peroxide",
                 "peroxide: protect the eyes, never mix it with the accelerator directly"},
    UsualCaution{"confined_space", "test the air in chambers and large drains"},
    UsualCaution{"stored_air",
                 "stand clear of an inflated bladder, let the air out before anything is loosened"},
};

inline bool is_usual(std::string_view code) {
  return std::any_of(usual_caution_words.begin(), usual_caution_words.end(),
                     [&](UsualCaution const& u) { return code == u.code; });
}

/// The few words for a caution; empty where it has none.
inline std::string_view in_short(std::string_view code) {
  auto const* found = std::find_if(usual_caution_words.begin(), usual_caution_words.end(),
                                   [&](UsualCaution const& u) { return code == u.code; });
  return found == usual_caution_words.end() ? std::string_view() : found->in_short;
}

}  // namespace cure::process
