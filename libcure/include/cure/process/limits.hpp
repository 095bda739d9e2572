#pragma once
/// What the values of a case may be, in SI: beyond it lies a slip of the pen (a wrong unit, a lost
/// digit), or a job that the model does not know. validate() holds cases to it, and the reader of
/// case documents turns it into the document's units. Project choice, no source.

#include "cure/range.hpp"

namespace cure::process::limits {

inline constexpr Range temperature{.low = 213.15, .high = 573.15};      ///< [K]
inline constexpr Range pipe_diameter{.low = 0.02, .high = 3.0};         ///< [m]
inline constexpr Range pipe_wall{.low = 0.5e-3, .high = 0.5};           ///< [m]
inline constexpr Range thickness{.low = 0.3e-3, .high = 0.06};          ///< liner, bladder [m]
inline constexpr Range liner_length{.low = 0.05, .high = 50.0};         ///< [m]
inline constexpr Range fibre_volume_fraction{.low = 0.0, .high = 0.7};  ///< [-]
inline constexpr Range contact_resistance{.low = 0.0, .high = 10.0};    ///< [m2 K/W]
inline constexpr std::size_t most_stages = 32;
inline constexpr Range duration{.low = 0.06, .high = 6e7};                  ///< of a stage [s]
inline constexpr Range mass{.low = 0.0, .high = 1000.0, .above = true};     ///< [kg]
inline constexpr Range surface_area{.low = 0.0, .high = 100.0};             ///< [m2]
inline constexpr Range h{.low = 0.0, .high = 1e5};                          ///< [W/(m2 K)]
inline constexpr Range h_of_water{.low = 0.0, .high = 1e5, .above = true};  ///< [W/(m2 K)]
inline constexpr Range groundwater_h{.low = 1.0, .high = 1e5};              ///< [W/(m2 K)]
inline constexpr Range absorbed_sun{.low = 0.0, .high = 2000.0};            ///< [W/m2]
inline constexpr Range emissivity{.low = 0.0, .high = 1.0};                 ///< [-]
inline constexpr Range wind{.low = 0.0, .high = 60.0};                      ///< [m/s]
inline constexpr Range alpha_min{.low = 0.0, .high = 1.0};                  ///< [-]
inline constexpr Range Tg_margin{.low = -50.0, .high = 200.0};              ///< [K]
inline constexpr Range release_within{.low = 0.6, .high = 6e5};             ///< [s]
inline constexpr Range load_time{.low = 180.0, .high = 3.6e7};              ///< [s]
inline constexpr Range water_head{.low = 0.0, .high = 50.0};                ///< [m]
inline constexpr Range pull{.low = 0.0, .high = 1e5};                       ///< [N]
inline constexpr Range safety_factor{.low = 1.0, .high = 10.0};             ///< [-]
inline constexpr Range water_temperature{.low = 273.15, .high = 373.15};    ///< [K]
inline constexpr Range ground_offset{.low = -60.0, .high = 60.0};           ///< [K]
inline constexpr Range initial_alpha{.low = 0.0, .high = 0.99};             ///< [-]
inline constexpr Range alpha_gel{.low = 0.0, .high = 1.0, .above = true};   ///< [-]
inline constexpr Range Tg_lambda{.low = 0.0, .high = 10.0, .above = true};  ///< [-]
inline constexpr Range positive{.low = 0.0, .above = true};

/// Room in the pipe: the liner is thinner than this share of the pipe's inner radius,
inline constexpr double liner_share = 0.4;
/// and the bladder thinner than this share of the liner's.
inline constexpr double bladder_share = 0.9;

}  // namespace cure::process::limits
