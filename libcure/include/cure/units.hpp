#pragma once
/// Physical constants, and the one table that turns the units authors use into SI.
/// Inside the library everything is SI; files and screens carry the unit beside the number.

#include <array>
#include <optional>
#include <string_view>

#include "cure/arithmetic.hpp"

namespace cure {

/// Molar gas constant [J/(mol K)], exact since the SI of 2019.
inline constexpr double gas_constant = 8.31446261815324;
/// 0 degC in kelvin [K], exact.
inline constexpr double zero_celsius = 273.15;
/// Stefan-Boltzmann constant [W/(m2 K4)], CODATA 2018.
inline constexpr double stefan_boltzmann = 5.670374419e-8;

constexpr double kelvin_from_celsius(double celsius) { return celsius + zero_celsius; }
constexpr double celsius_from_kelvin(double kelvin) { return kelvin - zero_celsius; }

namespace units {

/// What a unit measures; two units can be exchanged only inside one kind.
enum class Kind {
  number,
  rate,
  molar_energy,
  temperature,
  inverse_temperature,
  temperature_difference,
  specific_energy,
  density,
  specific_heat,
  conductivity,
  viscosity,
  pressure,
  time,
  length,
  molality,
  diffusivity,
  molar_rate,
  heat_transfer,
};

/// SI value = value * factor + offset.
struct Unit {
  std::string_view name;
  Kind kind;
  double factor;
  double offset;
};

inline constexpr std::array table{
    Unit{"1", Kind::number, 1.0, 0.0},
    Unit{"%", Kind::number, 1e-2, 0.0},
    Unit{"1/s", Kind::rate, 1.0, 0.0},
    Unit{"1/min", Kind::rate, 1.0 / 60.0, 0.0},
    Unit{"1/h", Kind::rate, 1.0 / 3600.0, 0.0},
    Unit{"J/mol", Kind::molar_energy, 1.0, 0.0},
    Unit{"kJ/mol", Kind::molar_energy, 1e3, 0.0},
    Unit{"cal/mol", Kind::molar_energy, 4.184, 0.0},
    Unit{"kcal/mol", Kind::molar_energy, 4184.0, 0.0},
    Unit{"K", Kind::temperature, 1.0, 0.0},
    Unit{"degC", Kind::temperature, 1.0, zero_celsius},
    Unit{"K", Kind::temperature_difference, 1.0, 0.0},
    Unit{"1/K", Kind::inverse_temperature, 1.0, 0.0},
    Unit{"J/kg", Kind::specific_energy, 1.0, 0.0},
    Unit{"kJ/kg", Kind::specific_energy, 1e3, 0.0},
    Unit{"J/g", Kind::specific_energy, 1e3, 0.0},
    Unit{"cal/g", Kind::specific_energy, 4184.0, 0.0},
    Unit{"kg/m3", Kind::density, 1.0, 0.0},
    Unit{"g/cm3", Kind::density, 1e3, 0.0},
    Unit{"J/(kg K)", Kind::specific_heat, 1.0, 0.0},
    Unit{"kJ/(kg K)", Kind::specific_heat, 1e3, 0.0},
    Unit{"J/(g K)", Kind::specific_heat, 1e3, 0.0},
    Unit{"cal/(g K)", Kind::specific_heat, 4184.0, 0.0},
    Unit{"W/(m K)", Kind::conductivity, 1.0, 0.0},
    Unit{"mW/(m K)", Kind::conductivity, 1e-3, 0.0},
    Unit{"Pa s", Kind::viscosity, 1.0, 0.0},
    Unit{"mPa s", Kind::viscosity, 1e-3, 0.0},
    Unit{"cP", Kind::viscosity, 1e-3, 0.0},
    Unit{"Pa", Kind::pressure, 1.0, 0.0},
    Unit{"MPa", Kind::pressure, 1e6, 0.0},
    Unit{"GPa", Kind::pressure, 1e9, 0.0},
    Unit{"s", Kind::time, 1.0, 0.0},
    Unit{"min", Kind::time, 60.0, 0.0},
    Unit{"h", Kind::time, 3600.0, 0.0},
    Unit{"m", Kind::length, 1.0, 0.0},
    Unit{"mm", Kind::length, 1e-3, 0.0},
    Unit{"mol/kg", Kind::molality, 1.0, 0.0},
    Unit{"m2/s", Kind::diffusivity, 1.0, 0.0},
    Unit{"mm2/s", Kind::diffusivity, 1e-6, 0.0},
    Unit{"m2/day", Kind::diffusivity, 1.0 / 86400.0, 0.0},
    Unit{"m3/(mol s)", Kind::molar_rate, 1.0, 0.0},
    Unit{"L/(mol s)", Kind::molar_rate, 1e-3, 0.0},
    Unit{"W/(m2 K)", Kind::heat_transfer, 1.0, 0.0},
};

/// The unit of that name and kind, or nothing.
constexpr std::optional<Unit> find(std::string_view name, Kind kind) {
  for (auto const& unit : table) {
    if (unit.kind == kind && unit.name == name) return unit;
  }
  return std::nullopt;
}

constexpr double to_si(double value, Unit const& unit) { return value * unit.factor + unit.offset; }

}  // namespace units
}  // namespace cure
