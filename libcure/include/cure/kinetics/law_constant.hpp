#pragma once
/// What a rate law says of its constants, once: each law lists them (`constants()`) in the order of
/// its struct. Model files are read and their schemas are made by that list, packs are filled by
/// it, and fits take from it their parameters, bounds and starts.
///
/// All is known at compile time: code for packs goes by the list without a call that could come
/// from another machine's instructions.

#include <cstddef>
#include <tuple>
#include <utility>

#include "cure/kinetics/arrhenius.hpp"
#include "cure/range.hpp"
#include "cure/units.hpp"

namespace cure::kinetics {

/// Where a fit looks for a constant: its bounds, and the range of its starts, in SI.
struct Search {
  double low, high;
  double start_low, start_high;
};

/// Of activation energies [J/mol].
inline constexpr Search energy_search{5e3, 400e3, 40e3, 110e3};

/// Whether a constant of a law is a rate constant: an Arrhenius, not a plain number.
template <class Member>
inline constexpr bool is_rate_constant = false;
template <class Law, class P>
inline constexpr bool is_rate_constant<Arrhenius<P> Law::*> = true;

/// A constant of a law. `Member` is where it is: an Arrhenius or a plain number.
template <class Member>
struct LawConstant {
  Member member;
  char const* key;  ///< in model files
  units::Kind kind = units::Kind::number;
  Range range = {};  ///< what it may be, in SI; of a rate constant any number
  /// Of a rate constant: of its logarithm, over the one to be expected at the temperature of the
  /// data.
  Search search = {};
  Search energy = energy_search;  ///< of an Arrhenius
  char const* symbol = "";        ///< in figures; empty: the key
  char const* fit_name = "";      ///< where a fit has another parameter in its place
  bool by_logarithm = false;      ///< a plain number is fitted as its logarithm
  bool may_be_left_out = false;
  /// Key of the rate constant whose multiple it is in a fit, at the reference temperature; it may
  /// then be negative. Empty: it is fitted as its logarithm.
  char const* ratio_to = "";
  /// What the recipe of the resin tells, in words: no calorimeter does, so fits want it held.
  char const* recipe = "";

  constexpr LawConstant shown_as(char const* text) const {
    auto c = *this;
    c.symbol = text;
    return c;
  }
  constexpr LawConstant fitted_as(char const* text) const {
    auto c = *this;
    c.fit_name = text;
    return c;
  }
  constexpr LawConstant as_logarithm() const {
    auto c = *this;
    c.by_logarithm = true;
    return c;
  }
  constexpr LawConstant optional() const {
    auto c = *this;
    c.may_be_left_out = true;
    return c;
  }
  constexpr LawConstant as_ratio_to(char const* other, Search of_ratio) const {
    auto c = *this;
    c.ratio_to = other;
    c.search = of_ratio;
    return c;
  }
  constexpr LawConstant told_by_recipe(char const* text) const {
    auto c = *this;
    c.recipe = text;
    return c;
  }
  constexpr LawConstant with_energy(Search of_energy) const {
    auto c = *this;
    c.energy = of_energy;
    return c;
  }
};

/// @param start_low, start_high range of the starts of ln k, over what is to be expected
template <class Law, class P>
constexpr auto rate_constant(Arrhenius<P> Law::*member, char const* key, double start_low,
                             double start_high) {
  return LawConstant<Arrhenius<P> Law::*>{
      .member = member,
      .key = key,
      .kind = units::Kind::rate,
      .search = {-14.0, 14.0, start_low, start_high},
  };
}

/// @param range what it may be, in SI
template <class Law, class P>
constexpr auto plain_constant(P Law::*member, char const* key, Range range, Search search,
                              units::Kind kind = units::Kind::number) {
  return LawConstant<P Law::*>{
      .member = member, .key = key, .kind = kind, .range = range, .search = search};
}

/// Ranges and searches of the exponents of the degree of cure and of what is left of it.
inline constexpr Range exponent_range{.low = 0.0, .high = 10.0};
template <class Law, class P>
constexpr auto exponent_of_alpha(P Law::*member, char const* key) {
  return plain_constant(member, key, exponent_range, {0.01, 5.0, 0.3, 1.5});
}
template <class Law, class P>
constexpr auto order(P Law::*member, char const* key) {
  return plain_constant(member, key, exponent_range, {0.05, 8.0, 0.8, 2.5});
}

/// How many constants a law has.
template <class Law>
inline constexpr std::size_t constant_count = std::tuple_size_v<decltype(Law::constants())>;

/// Constant number i of a law.
template <class Law, std::size_t i>
inline constexpr auto constant_of = std::get<i>(Law::constants());

/// Calls f with each constant of a law, in order.
template <class Law, class F>
constexpr void each_constant(F const& f) {
  [&]<std::size_t... i>(std::index_sequence<i...>) { (f(constant_of<Law, i>), ...); }
  (std::make_index_sequence<constant_count<Law>>{});
}

/// Whether the formula of a law serves packs. One that chooses by `if` says that it does not.
template <class Law>
constexpr bool serves_packs() {
  if constexpr (requires { Law::serves_packs; }) {
    return Law::serves_packs;
  } else {
    return true;
  }
}

/// How many forms of its formula a law has for packs of cells.
template <class Law>
constexpr std::size_t form_count() {
  if constexpr (requires { Law::forms; }) {
    return Law::forms;
  } else {
    return 1;
  }
}

/// Whether a law cannot start from nothing.
template <class Law>
constexpr bool needs_initial_cure() {
  return requires { Law::needs_initial_cure; };
}

}  // namespace cure::kinetics
