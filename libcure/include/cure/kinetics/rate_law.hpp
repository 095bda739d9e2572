#pragma once
/// The registry of cure-rate laws in one degree of cure, d(alpha)/dt = f(T, alpha) [1/s], each with
/// its partial derivatives in one pass. A law is a struct in kinetics/laws with its formula,
/// source, name and constants (law_constant.hpp); it is known everywhere once its line stands in
/// RateLaw. `limit` in their formulas is the diffusion control at the point.

#include <array>
#include <cstddef>
#include <type_traits>
#include <utility>
#include <variant>

#include "cure/kinetics/laws/autocatalysed_nth_order.hpp"
#include "cure/kinetics/laws/autocatalytic.hpp"
#include "cure/kinetics/laws/kamal_sourour.hpp"
#include "cure/kinetics/laws/nth_order.hpp"
#include "cure/kinetics/laws/two_branch.hpp"

namespace cure::kinetics {

template <class P>
using RateLaw = std::variant<NthOrder<P>,       //
                             Autocatalytic<P>,  //
                             KamalSourour<P>,   //
                             TwoBranch<P>,      //
                             AutocatalysedNthOrder<P>>;

/// Law number i of a list such as RateLaw<double>.
template <std::size_t i, class List>
using Listed = std::variant_alternative_t<i, List>;

/// Calls f.template operator()<i>() with the number of each entry of a list.
template <class List, class F>
constexpr void each_listed(F const& f) {
  [&]<std::size_t... i>(std::index_sequence<i...>) { (f.template operator()<i>(), ...); }
  (std::make_index_sequence<std::variant_size_v<List>>{});
}

/// The number of a law in the list that it is in.
template <class Law, class List>
constexpr std::size_t number_in() {
  std::size_t number = std::variant_size_v<List>;
  each_listed<List>([&]<std::size_t i>() {
    if (std::is_same_v<Listed<i, List>, Law>) number = i;
  });
  return number;
}

/// The same in RateLaw.
template <template <class> class Law>
inline constexpr std::size_t law_number = number_in<Law<double>, RateLaw<double>>();

}  // namespace cure::kinetics
