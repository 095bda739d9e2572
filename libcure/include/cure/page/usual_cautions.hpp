#pragma once
/// Cautions that hold whatever the times: pages have them in a few words, and every front repeats
/// them.

#include <algorithm>
#include <array>
#include <string_view>

#include "cure/arithmetic.hpp"

namespace cure::page {

struct Usual {
  char const* code;      ///< of process::Caution
  char const* in_short;  ///< empty: it stands whole among those of the job
};

inline constexpr std::array usual_cautions{
    Usual{"model_estimated", ""},
    Usual{"criterion_is_assumed",
          "the resin maker's data, local codes and licensed practice come first, for no standard "
          "gives a release criterion"},
    Usual{"mixed_mass", "mixed resin in bulk heats itself, may smoke or burn"},
    Usual{"amine", "amine hardener: gloves, eye protection, fresh air"},
    Usual{"isocyanate", "isocyanate: supplied air where its maker says so"},
    Usual{"styrene", "styrene: ventilate, measure, no sparks"},
    Usual{"peroxide", "peroxide: protect the eyes, never mix it with the accelerator directly"},
    Usual{"confined_space", "test the air in chambers and large drains"},
    Usual{"stored_air",
          "stand clear of an inflated bladder, let the air out before anything is loosened"},
};

/// The few words for a caution; empty where it has none.
inline std::string_view in_short(std::string_view code) {
  auto const* found = std::find_if(usual_cautions.begin(), usual_cautions.end(),
                                   [&](Usual const& u) { return code == u.code; });
  return found == usual_cautions.end() ? std::string_view() : found->in_short;
}

}  // namespace cure::page
