#pragma once
/// The stages of a repair, and the order in which they may come. All SI.

#include <algorithm>
#include <cstddef>
#include <optional>
#include <variant>
#include <vector>

#include "cure/heat/air_film.hpp"
#include "cure/heat/boundary.hpp"
#include "cure/heat/temperature_cycle.hpp"
#include "cure/numerics/schedule.hpp"

namespace cure::process {

using numerics::Schedule;

/// Mixed resin in its pouch or bucket: one temperature, losing heat to the air.
struct MixedMass {
  double duration = 0.0;      ///< [s]
  double mass = 0.0;          ///< [kg]
  double surface_area = 0.0;  ///< [m2]
  Schedule h;                 ///< [W/(m2 K)]
  Schedule ambient;           ///< [K]

  bool operator==(MixedMass const&) const = default;
};

/// Wet laminate on the packer, or on a table with its back insulated; the other face to the air.
struct WetOut {
  double duration = 0.0;  ///< [s]
  Schedule h;             ///< [W/(m2 K)]
  Schedule ambient;       ///< [K]
  Schedule absorbed_sun;  ///< [W/m2]
  bool on_packer = true;
  std::optional<heat::AirFilm> film = std::nullopt;  ///< gives h in its place
  double emissivity = 0.0;                           ///< 0: radiation counts as part of h [-]
  Schedule surroundings;                             ///< radiating temperature [K]

  bool operator==(WetOut const&) const = default;
};

/// A fill that is heated and cooled: where it starts [K], and its legs.
struct FillCycle {
  double start = 0.0;
  std::vector<heat::CycleLeg> legs;

  bool operator==(FillCycle const&) const = default;
};

/// Pressed against the host pipe by the bladder.
struct Held {
  double duration = 0.0;                             ///< [s]
  Schedule fill_temperature;                         ///< of the medium in the bladder [K]
  Schedule h;                                        ///< at the bladder's inner face [W/(m2 K)]
  bool until_release = false;                        ///< end at the release when that comes first
  std::optional<heat::AirFilm> film = std::nullopt;  ///< gives h in its place
  std::optional<FillCycle> cycle = std::nullopt;     ///< what the fill temperature was made of

  bool operator==(Held const&) const = default;
};

/// Bladder down, for good or until it is inflated again; the liner faces the bore.
struct AfterRelease {
  double duration = 0.0;                             ///< [s]
  Schedule bore_temperature;                         ///< [K]
  Schedule h;                                        ///< [W/(m2 K)]
  std::optional<heat::AirFilm> film = std::nullopt;  ///< gives h in its place

  bool operator==(AfterRelease const&) const = default;
};

using Stage = std::variant<MixedMass, WetOut, Held, AfterRelease>;

inline double duration(Stage const& stage) {
  return std::visit([](auto const& s) { return s.duration; }, stage);
}
/// In the order of Stage.
enum class StageKind { mixed_mass, wet_out, held, after_release };

/// Whether a stage may come after another: what is mixed is laid on the liner, and that brought
/// into the pipe, once each; in between and there it may take as many stages as it has.
inline bool may_follow(StageKind before, StageKind next) {
  return std::min(next, StageKind::held) >= std::min(before, StageKind::held);
}
inline constexpr char const* stage_order =
    "stages in the order mixed_mass, wet_out, then held and after_release as they come";

inline StageKind kind(Stage const& stage) { return static_cast<StageKind>(stage.index()); }
/// As documents have it.
inline char const* name(StageKind kind) {
  constexpr char const* names[] = {"mixed_mass", "wet_out", "held", "after_release"};
  return names[static_cast<std::size_t>(kind)];
}

}  // namespace cure::process
