#pragma once
/// One repair as the library sees it: items, temperatures, stages and criteria, all SI.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/heat/boundary.hpp"
#include "cure/heat/ground.hpp"
#include "cure/heat/material.hpp"
#include "cure/heat/mesh.hpp"
#include "cure/kinetics/resin.hpp"
#include "cure/kinetics/uncertain_resin.hpp"
#include "cure/numerics/run_control.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/process/section.hpp"
#include "cure/process/stage.hpp"
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

  bool operator==(Liner const&) const = default;
};

struct Bladder {
  double thickness = 0.0;  ///< [m]
  heat::Material material;

  bool operator==(Bladder const&) const = default;
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

/// What the liner must bear once the bladder is out.
struct Bears {
  double water_head = 0.0;  ///< of groundwater, above the invert [m]
  double pull = 500.0;      ///< along the pipe, by the bladder that is drawn out [N]
  double factor = 2.0;      ///< by which strength exceeds load [-]

  bool operator==(Bears const&) const = default;
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

  bool operator==(ReleaseCriterion const&) const = default;
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

/// Numbers of the first stage in which the liner is held and of the last; nothing without one. What
/// lies between them, with the bladder down, is part of the hold.
inline std::optional<std::pair<std::size_t, std::size_t>> held_stages(Case const& c) {
  std::optional<std::pair<std::size_t, std::size_t>> found;
  for (std::size_t i = 0; i < c.stages.size(); ++i) {
    if (std::holds_alternative<Held>(c.stages[i])) found = {found ? found->first : i, i};
  }
  return found;
}

/// When a stage is planned to start [s from mixing].
inline double planned_start(Case const& c, std::size_t stage) {
  return std::accumulate(c.stages.begin(), c.stages.begin() + static_cast<std::ptrdiff_t>(stage),
                         0.0, [](double t, Stage const& s) { return t + duration(s); });
}

/// When the liner is held from, and to when its hold is planned to last [s from mixing]; nothing
/// without a held stage.
inline std::optional<std::pair<double, double>> planned_hold(Case const& c) {
  auto const held = held_stages(c);
  if (!held) return std::nullopt;
  return std::pair{planned_start(c, held->first), planned_start(c, held->second + 1)};
}

/// The case without what comes after its last hold.
inline Case up_to_release(Case c) {
  while (!c.stages.empty() && std::holds_alternative<AfterRelease>(c.stages.back())) {
    c.stages.pop_back();
  }
  return c;
}

/// Calls f with each stage of a kind.
template <class Kind, class AnyCase, class F>
void each(AnyCase& c, F const& f) {
  for (auto& stage : c.stages) {
    if (auto* s = std::get_if<Kind>(&stage)) f(*s);
  }
}

}  // namespace cure::process
