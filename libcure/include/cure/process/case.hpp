#pragma once
/// One repair as the library sees it: items, temperatures, stages and criteria, all SI.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/heat/air_film.hpp"
#include "cure/heat/boundary.hpp"
#include "cure/heat/ground.hpp"
#include "cure/heat/material.hpp"
#include "cure/heat/mesh.hpp"
#include "cure/kinetics/resin.hpp"
#include "cure/kinetics/uncertain_resin.hpp"
#include "cure/numerics/run_control.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/process/section.hpp"
#include "cure/process/tolerance.hpp"

namespace cure::process {

using numerics::RunLimits, numerics::Schedule;

struct Pipe {
  double inner_diameter = 0.0;  ///< [m]
  double wall = 0.0;            ///< [m]
  heat::Material material;
};

struct Liner {
  double thickness = 0.0;  ///< [m]
  double length = 0.0;     ///< [m]
  double fibre_volume_fraction = 0.0;
  heat::Material fibre;
};

struct Bladder {
  double thickness = 0.0;  ///< [m]
  heat::Material material;
};

/// Where the ground stands in its year.
struct ClimatePoint {
  heat::GroundClimate climate;
  double depth = 0.0;  ///< of the pipe's axis [m]
  double day = 0.0;    ///< of the year, 1 is 1 January [day]
  std::optional<double>
      worst_month;  ///< of a table by months: its largest distance from the wave [K]
};

/// Water moving past the pipe, or past the soil around it, as a film at `Ground::radius`.
struct Groundwater {
  double h = 0.0;        ///< of the film [W/(m2 K)]
  Schedule temperature;  ///< [K]
};

struct Ground {
  heat::Material material;      ///< freezes when its properties vary
  Schedule temperature;         ///< undisturbed, at the far radius [K]
  double radius = 0.0;          ///< where the soil ends [m]; at the pipe's outer face there is none
  bool radius_by_time = false;  ///< it was not given, see far_radius() in conditions.hpp
  std::optional<ClimatePoint> climate;  ///< what the temperature came from
  std::optional<Groundwater> water;
};

/// Temperatures at the moment of mixing [K].
struct InitialTemperatures {
  double resin = 0.0, fibre = 0.0, packer = 0.0, pipe = 0.0, air = 0.0;
};

/// [m2 K/W]
struct ContactResistances {
  double bladder_liner = 0.0, liner_pipe = 0.0, pipe_ground = 0.0;
};

/// Mixed resin in its pouch or bucket: one temperature, losing heat to the air.
struct MixedMass {
  double duration = 0.0;      ///< [s]
  double mass = 0.0;          ///< [kg]
  double surface_area = 0.0;  ///< [m2]
  Schedule h;                 ///< [W/(m2 K)]
  Schedule ambient;           ///< [K]
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
};

/// A fill that is heated and cooled: where it starts [K], and its legs.
struct FillCycle {
  double start = 0.0;
  std::vector<heat::CycleLeg> legs;
};

/// Pressed against the host pipe by the bladder.
struct Held {
  double duration = 0.0;                             ///< [s]
  Schedule fill_temperature;                         ///< of the medium in the bladder [K]
  Schedule h;                                        ///< at the bladder's inner face [W/(m2 K)]
  bool until_release = false;                        ///< end at the release when that comes first
  std::optional<heat::AirFilm> film = std::nullopt;  ///< gives h in its place
  std::optional<FillCycle> cycle = std::nullopt;     ///< what the fill temperature was made of
};

/// Bladder gone; the liner faces the bore.
struct AfterRelease {
  double duration = 0.0;                             ///< [s]
  Schedule bore_temperature;                         ///< [K]
  Schedule h;                                        ///< [W/(m2 K)]
  std::optional<heat::AirFilm> film = std::nullopt;  ///< gives h in its place
};

using Stage = std::variant<MixedMass, WetOut, Held, AfterRelease>;

inline double duration(Stage const& stage) {
  return std::visit([](auto const& s) { return s.duration; }, stage);
}
/// In the order of Stage.
enum class StageKind { mixed_mass, wet_out, held, after_release };

inline StageKind kind(Stage const& stage) { return static_cast<StageKind>(stage.index()); }
/// As documents have it.
inline char const* name(StageKind kind) {
  constexpr char const* names[] = {"mixed_mass", "wet_out", "held", "after_release"};
  return names[static_cast<std::size_t>(kind)];
}

/// What the liner must bear once the bladder is out.
struct Bears {
  double water_head = 0.0;  ///< of groundwater, above the invert [m]
  double pull = 500.0;      ///< along the pipe, by the bladder that is drawn out [N]
  double factor = 2.0;      ///< by which strength exceeds load [-]
};

enum class ReleaseBy {
  mechanics,   ///< what the liner must bear, see release_needs.hpp
  conversion,  ///< the numbers that the resin's maker states
};

struct ReleaseCriterion {
  ReleaseBy by = ReleaseBy::mechanics;
  Bears bears;
  double load_time = 7200.0;    ///< that the load stays before further cure counts [s]
  double alpha_min = 1.0;       ///< by conversion [-]
  double Tg_margin = 0.0;       ///< Tg above T, by conversion [K]
  double safety_factor = 1.25;  ///< on the time, only where there are no ranges [-]
};

struct ServiceCriterion {
  double temperature = 0.0;  ///< [K]
  double Tg_margin = 0.0;    ///< [K]
};

/// How finely to compute: mesh and steps together.
enum class Accuracy { quick, standard, fine };

struct Discretisation {
  std::size_t bladder = 8, liner = 24, pipe = 12, ground = 36;  ///< cells
  std::size_t columns = 48;                                     ///< of a section
  Tolerance tolerance;
  Accuracy accuracy = Accuracy::standard;  ///< the setting that it came from
  /// Where stated: refined until the release's estimated error is within it [s].
  std::optional<double> release_within;
  RunLimits limits;  ///< of one run

  /// The same with cells `factor` times as wide.
  [[nodiscard]] Discretisation coarser(double factor) const {
    auto const fewer = [&](std::size_t n) {
      return std::max<std::size_t>(
          2, static_cast<std::size_t>(std::lround(static_cast<double>(n) / factor)));
    };
    auto d = *this;
    for (auto* n : {&d.bladder, &d.liner, &d.pipe, &d.ground, &d.columns}) *n = fewer(*n);
    return d;
  }
};

/// Of an accuracy setting. Errors in the mesh fall with the cell
/// width, those in time with the tolerance; each setting takes both about equally far.
inline Discretisation discretisation(Accuracy accuracy) {
  Discretisation d;
  if (accuracy == Accuracy::quick) {
    d = d.coarser(2.0);
    d.tolerance = {2e-2, 2e-5};
  } else if (accuracy == Accuracy::fine) {
    d = d.coarser(0.5);
    d.tolerance = {1e-3, 1e-6};
  }
  d.accuracy = accuracy;
  return d;
}

struct Case {
  std::string title;
  kinetics::Resin<double> resin;
  kinetics::UncertainResin uncertain_resin;  ///< draws of it, where its constants have a covariance
  Pipe pipe;
  Liner liner;
  Bladder bladder;
  Ground ground;
  InitialTemperatures initial;
  ContactResistances contact;
  std::vector<Stage> stages;
  ReleaseCriterion release;
  ServiceCriterion service;
  std::optional<PipeSection> section;  ///< held and after release in two dimensions
  Discretisation discretisation;
  std::vector<std::string> defaults;  ///< what the document left out, and what served instead

  /// Uncured, at the reference temperature.
  [[nodiscard]] heat::Material neat_resin() const {
    return {resin.id, resin.conductivity.reference, resin.density.reference,
            resin.specific_heat.reference, resin.temperature_limit};
  }
  [[nodiscard]] heat::Material laminate() const {
    return heat::laminate(neat_resin(), liner.fibre, liner.fibre_volume_fraction);
  }
  /// Radius of the pipe's outer face [m].
  [[nodiscard]] double outer_radius() const { return 0.5 * pipe.inner_diameter + pipe.wall; }
  /// Radius of the liner's inner face [m].
  [[nodiscard]] double bore_radius() const { return 0.5 * pipe.inner_diameter - liner.thickness; }
  /// Resin that the liner holds [kg].
  [[nodiscard]] double resin_in_liner() const {
    double const volume =
        heat::shell_volume(heat::Geometry::cylinder, bore_radius(), 0.5 * pipe.inner_diameter) *
        liner.length;
    return volume * (1.0 - liner.fibre_volume_fraction) * resin.density.reference;
  }
  /// Heat of full cure per volume of laminate [J/m3].
  [[nodiscard]] double heat_of_laminate() const {
    return (1.0 - liner.fibre_volume_fraction) * resin.density.reference * resin.heat_of_reaction;
  }
};

/// The same case on cells twice as wide.
inline Case on_wider_cells(Case c) {
  c.discretisation = c.discretisation.coarser(2.0);
  if (c.section) c.section->columns = std::max<std::size_t>(4, c.section->columns / 2);
  return c;
}

/// When the liner is held from, and to when its hold is planned to last [s from mixing]; nothing
/// without a held stage.
inline std::optional<std::pair<double, double>> planned_hold(Case const& c) {
  double clock = 0.0;
  for (auto const& stage : c.stages) {
    double const end = clock + duration(stage);
    if (std::holds_alternative<Held>(stage)) return std::pair{clock, end};
    clock = end;
  }
  return std::nullopt;
}

}  // namespace cure::process
