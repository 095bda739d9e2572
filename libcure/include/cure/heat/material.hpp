#pragma once
/// A homogeneous material, and how resin and fibre mix into a laminate.
///
/// Density times specific heat mixes by volume (energy balance). Through the thickness the
/// conductivity follows Springer & Tsai (J. Compos. Mater. 1, 166, 1967), square packing of round
/// fibres, fibre volume fraction v < pi/4:
///   k/k_m = 1 - 2 sqrt(v/pi)
///         + (1/B)[pi - 4/sqrt(1 - B^2 v/pi) atan(sqrt(1 - B^2 v/pi)/(1 + B sqrt(v/pi)))],
///   B = 2 (k_m/k_f - 1)

#include <cmath>
#include <limits>
#include <memory>
#include <numbers>
#include <optional>
#include <string>

#include "cure/error.hpp"
#include "cure/heat/varying.hpp"

namespace cure::heat {

struct Material {
  std::string id;
  double conductivity = 0.0;                                           ///< [W/(m K)]
  double density = 0.0;                                                ///< [kg/m3]
  double specific_heat = 0.0;                                          ///< [J/(kg K)]
  double temperature_limit = std::numeric_limits<double>::infinity();  ///< [K]
  /// How heat capacity and conductivity vary about the values above; none: they do not.
  std::shared_ptr<VaryingProperties const> varying = nullptr;
  /// What would freeze in it; counts only once with_freezing has been asked for.
  std::optional<Freezing> freezing = std::nullopt;

  /// Volumetric heat capacity [J/(m3 K)].
  [[nodiscard]] double heat_capacity() const { return density * specific_heat; }
  /// Thermal diffusivity [m2/s].
  [[nodiscard]] double diffusivity() const { return conductivity / heat_capacity(); }

  bool operator==(Material const&) const = default;
};

/// The same ground, whose water now freezes. @throws InputError when none is known of
inline Material with_freezing(Material ground) {
  if (!ground.freezing) throw InputError("freezing", "no water in " + ground.id, "wet ground");
  ground.varying = std::make_shared<VaryingProperties const>(freezing_properties(
      *ground.freezing, ground.conductivity, ground.density, ground.specific_heat));
  return ground;
}

/// Transverse conductivity of a fibre laminate [W/(m K)] (Springer & Tsai, above).
/// @throws InputError when the fibre volume fraction is outside [0, pi/4)
inline double transverse_conductivity(double k_matrix, double k_fibre, double volume_fraction) {
  if (!(volume_fraction >= 0.0 && volume_fraction < std::numbers::pi / 4.0)) {
    throw InputError("fibre_volume_fraction", std::to_string(volume_fraction),
                     "0 to below pi/4 (0.785), the densest square packing");
  }
  double const B = 2.0 * (k_matrix / k_fibre - 1.0);
  double const q = std::sqrt(volume_fraction / std::numbers::pi);
  // The bracket over B tends to 2 q as B tends to 0 (equal conductivities).
  if (std::abs(B) < 1e-9) return k_matrix;
  double const D = 1.0 - B * B * q * q;
  double inner;
  if (D > 1e-12) {
    double const s = std::sqrt(D);
    inner = 4.0 / s * std::atan(s / (1.0 + B * q));
  } else if (D < -1e-12) {
    double const s = std::sqrt(-D);
    inner = 4.0 / s * std::atanh(s / (1.0 + B * q));
  } else {
    inner = 4.0 / (1.0 + B * q);
  }
  return k_matrix * (1.0 - 2.0 * q + (std::numbers::pi - inner) / B);
}

/// Laminate of resin (matrix) and fibre at a fibre volume fraction.
inline Material laminate(Material const& resin, Material const& fibre, double volume_fraction) {
  Material mix;
  mix.id = "laminate";
  mix.conductivity =
      transverse_conductivity(resin.conductivity, fibre.conductivity, volume_fraction);
  mix.density = (1.0 - volume_fraction) * resin.density + volume_fraction * fibre.density;
  mix.specific_heat =
      ((1.0 - volume_fraction) * resin.heat_capacity() + volume_fraction * fibre.heat_capacity()) /
      mix.density;
  mix.temperature_limit = resin.temperature_limit;
  return mix;
}

}  // namespace cure::heat
