#pragma once
/// A cure scheme whose clock runs faster: every rate constant, chemical or of diffusion, times one
/// factor, so that the states pass through the same values in a shorter time.

#include "cure/compiled.hpp"
#include "cure/kinetics/cure_rate.hpp"

#if CURE_DEFINES(RATES)
#include <type_traits>
#include <utility>
#include <variant>
#endif

namespace cure::kinetics {

CURE_FUNCTION CureRate<double> faster(CureRate<double> const& rate, double factor);

#if CURE_DEFINES(RATES)
namespace detail {

inline void speed_up(SingleReaction<double>& r, double factor) {
  std::visit(
      [&]<class Law>(Law& law) {
        each_constant<Law>([&]<class Member>(LawConstant<Member> const& c) {
          if constexpr (is_rate_constant<Member>) (law.*c.member).k_ref *= factor;
        });
      },
      r.law);
  if (auto* d = std::get_if<Rabinowitch<double>>(&r.diffusion)) d->k_d0 *= factor;
}

}  // namespace detail

CURE_FUNCTION CureRate<double> faster(CureRate<double> const& rate, double factor) {
  return std::visit(
      [&](auto reaction) -> CureRate<double> {
        using R = decltype(reaction);
        if constexpr (std::is_same_v<R, SingleReaction<double>>) {
          detail::speed_up(reaction, factor);
        } else if constexpr (std::is_same_v<R, InhibitedReaction<double>>) {
          detail::speed_up(reaction.reaction, factor);
          reaction.k_z.k_ref *= factor;
        } else if constexpr (std::is_same_v<R, OwnRate<double>>) {
          reaction.factor *= factor;
        } else if constexpr (requires { reaction.parts; }) {
          for (auto& part : reaction.parts) detail::speed_up(part.reaction, factor);
        } else if constexpr (requires { reaction.branches; }) {
          for (auto& branch : reaction.branches) detail::speed_up(branch.reaction, factor);
        } else {
          reaction.k_0.k_ref *= factor;
          reaction.k_h.k_ref *= factor;
          reaction.k_ether.k_ref *= factor;
          if (auto* d = std::get_if<Rabinowitch<double>>(&reaction.diffusion)) d->k_d0 *= factor;
        }
        return CureRate<double>(std::move(reaction));
      },
      rate.reaction());
}
#endif

}  // namespace cure::kinetics
