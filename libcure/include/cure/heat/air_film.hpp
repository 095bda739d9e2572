#pragma once
/// A surface's heat-transfer coefficient by correlation, which moves with the temperatures of
/// surface and air (see convection.hpp for the formulas and their sources). Beyond the range of its
/// source a correlation is carried on, and says so: a run must not stop for it, nor hide it.

#include <cmath>

#include "cure/heat/convection.hpp"
#include "cure/numerics/schedule.hpp"

namespace cure::heat {

struct AirFilm {
  enum class Law {
    open_air,    ///< around a level packer or pipe: the larger of free convection and wind
    closed_air,  ///< inside a closed, level cylinder
  };

  Law law = Law::open_air;
  double diameter = 0.0;                  ///< of the surface [m]
  double pressure = standard_atmosphere;  ///< of the air, absolute [Pa]
  numerics::Schedule wind = 0.0;          ///< across the cylinder; open air only [m/s]
  double factor = 1.0;  ///< on the coefficient, for how uncertain correlations are [-]

  /// Heat-transfer coefficient [W/(m2 K)].
  /// @param surface,medium [K], above 0
  /// @param speed of the wind [m/s]
  [[nodiscard]] double h(double surface, double medium, double speed) const {
    auto const film = correlation::air(0.5 * (surface + medium), pressure);
    double const Ra = rayleigh(film, surface - medium, diameter);
    double const Nu =
        law == Law::open_air
            ? correlation::open_air(Ra, reynolds(film, speed, diameter), film.prandtl())
            : correlation::inside_cylinder(Ra);
    return factor * Nu * film.conductivity / diameter;
  }

  /// Whether the correlation's source covers this.
  [[nodiscard]] bool in_range(double surface, double medium, double speed) const {
    double const T = 0.5 * (surface + medium);
    auto const film = correlation::air(T, pressure);
    double const Ra = rayleigh(film, surface - medium, diameter);
    return T >= 200.0 && T <= 500.0 && Ra <= (law == Law::open_air ? 1e12 : 1e9) &&
           reynolds(film, speed, diameter) <= 1e7;
  }

  bool operator==(AirFilm const&) const = default;
};

}  // namespace cure::heat
