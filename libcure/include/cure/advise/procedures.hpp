#pragma once
/// What a crew can do otherwise with the resin and the wet liner before it is held: changes that
/// are made or not, without a value. The sizes are choices of this project, the practice common (no
/// source).

#include <algorithm>
#include <array>
#include <cmath>
#include <variant>

#include "cure/process/case.hpp"

namespace cure::advise {

using process::Case;

enum class Kind {
  resin_temperature,
  packer_temperature,
  smaller_mix,
  spread,
  shade,
  wrap,
  in_place,
  fill_temperature,
  hold,
  hardener
};

/// One of them.
struct Procedure {
  Kind kind;
  char const* words;
  bool (*helps)(Case const&);  ///< whether there is anything in it for the case
  void (*make)(Case&);
};

namespace detail {

/// Surface over volume of mixed resin that lies flat with both faces free, 10 and 20 mm thick
/// [1/m]: the latter is how a case has its pouch when it says nothing.
inline constexpr double laid_10_mm = 200.0, laid_20_mm = 100.0;

inline double volume(Case const& c, process::MixedMass const& m) {
  return m.mass / c.resin.density.reference;
}

/// Whether a stage of a kind has something.
template <class Stage, class Has>
bool any(Case const& c, Has const& has) {
  bool found = false;
  process::each<Stage>(c, [&](Stage const& s) { found = found || has(s); });
  return found;
}

/// A lump, such as a bucket: of it half as much has more surface for its volume.
inline bool is_lump(Case const& c) {
  return any<process::MixedMass>(
      c, [&](auto const& m) { return m.surface_area < 0.8 * laid_20_mm * volume(c, m); });
}
inline void halve(Case& c) {
  process::each<process::MixedMass>(c, [](auto& m) {
    m.mass *= 0.5;
    m.surface_area *= std::pow(0.5, 2.0 / 3.0);
  });
}

inline bool is_thick(Case const& c) {
  return any<process::MixedMass>(
      c, [&](auto const& m) { return m.surface_area < 0.8 * laid_10_mm * volume(c, m); });
}
inline void lay_flat(Case& c) {
  process::each<process::MixedMass>(
      c, [&](auto& m) { m.surface_area = std::max(m.surface_area, laid_10_mm * volume(c, m)); });
}

inline bool in_the_sun(Case const& c) {
  return any<process::WetOut>(c, [](auto const& s) { return s.absorbed_sun.max() > 0.0; });
}
inline void shade(Case& c) {
  process::each<process::WetOut>(c, [](auto& s) { s.absorbed_sun = 0.0; });
}

/// A film about as that of a blanket of 20 mm foam [W/(m2 K)].
inline constexpr double wrapped = 2.0;

/// Only against warmer air: a wet liner that is the warmer one would keep its own heat.
inline bool wraps(Case const& c, process::WetOut const& s) {
  return !s.film && s.h.max() > wrapped && s.emissivity == 0.0 && s.ambient.constant() &&
         s.ambient.max() > c.initial.resin + 3.0;
}
inline bool in_warm_air(Case const& c) {
  return any<process::WetOut>(c, [&](auto const& s) { return wraps(c, s); });
}
inline void wrap(Case& c) {
  process::each<process::WetOut>(c, [&](auto& s) {
    if (wraps(c, s)) s.h = wrapped;
  });
}

}  // namespace detail

inline constexpr std::array procedures{
    Procedure{Kind::smaller_mix, "mixed in two halves, each when it is needed", detail::is_lump,
              detail::halve},
    Procedure{Kind::spread, "mixed resin laid out flat, 10 mm thick", detail::is_thick,
              detail::lay_flat},
    Procedure{Kind::shade, "wet-out in the shade", detail::in_the_sun, detail::shade},
    Procedure{Kind::wrap, "wet liner wrapped up against the warm air", detail::in_warm_air,
              detail::wrap},
};

/// That of a kind; there must be one.
inline Procedure const& procedure(Kind kind) {
  return *std::find_if(procedures.begin(), procedures.end(),
                       [kind](Procedure const& p) { return p.kind == kind; });
}

}  // namespace cure::advise
