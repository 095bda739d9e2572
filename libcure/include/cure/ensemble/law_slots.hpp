#pragma once
/// The constants of a rate law or a diffusion control in a row of numbers, in the order of its list
/// (kinetics/law_constant.hpp): a rate constant takes two places, its value at a reference
/// temperature that all share and its activation energy; any other constant takes one.

#include <cstddef>
#include <utility>
#include <variant>

#include "cure/kinetics/law_constant.hpp"
#include "cure/kinetics/rate_law.hpp"

namespace cure::ensemble {

/// Places before constant number i.
template <class Law, std::size_t i>
constexpr std::size_t slots_before() {
  return [&]<std::size_t... j>(std::index_sequence<j...>) {
    return (std::size_t{0} + ... +
            std::size_t{kinetics::is_rate_constant<decltype(kinetics::constant_of<Law, j>.member)>
                            ? 2U
                            : 1U});
  }
  (std::make_index_sequence<i>{});
}

/// Most places that a law of a list takes, of those that serve packs.
template <class List>
inline constexpr std::size_t most_slots = [] {
  std::size_t most = 0;
  kinetics::each_listed<List>([&]<std::size_t i>() {
    using Law = kinetics::Listed<i, List>;
    auto const slots = slots_before<Law, kinetics::constant_count<Law>>();
    if (kinetics::serves_packs<Law>() && slots > most) most = slots;
  });
  return most;
}();

/// How many forms of a law's formula the packed solver is compiled for: the general one and the
/// first with fewer functions, which serves where later ones would too. Draws of a resin have those
/// seldom, as no two of their constants are alike.
template <class Law>
constexpr std::size_t packed_forms() {
  return kinetics::form_count<Law>() < 2 ? 1 : 2;
}

/// Puts the constants of a law at their places.
/// @param T_ref where rate constants are taken [K]
/// @param put called with a place and what belongs there
template <class Law, class Put>
void put_constants(Law const& law, double T_ref, Put const& put) {
  std::size_t at = 0;
  kinetics::each_constant<Law>([&]<class Member>(kinetics::LawConstant<Member> const& c) {
    auto const& value = law.*c.member;
    if constexpr (kinetics::is_rate_constant<Member>) {
      put(at++, value.at(T_ref).value);
      put(at++, value.E);
    } else {
      put(at++, value);
    }
  });
}

/// A law of the numbers at its places.
template <class Law, class F>
Law law_of_slots(F const* slots, F const& inverse_T_ref) {
  auto const constant = [&]<std::size_t i>() {
    constexpr std::size_t at = slots_before<Law, i>();
    if constexpr (slots_before<Law, i + 1>() == at + 2) {
      return kinetics::Arrhenius<F>{slots[at], slots[at + 1], inverse_T_ref};
    } else {
      return slots[at];
    }
  };
  return [&]<std::size_t... i>(std::index_sequence<i...>) {
    return Law{constant.template operator()<i>()...};
  }
  (std::make_index_sequence<kinetics::constant_count<Law>>{});
}

}  // namespace cure::ensemble
