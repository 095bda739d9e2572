#pragma once
/// A resin whose hardeners are blended in shares. Mixing rules, all assumptions of this project:
/// rates add by share at the common degree of cure; heat, density, heat capacity, conductivity,
/// glass transition and gel point mix linearly; viscosity constants too, its pre-factor and working
/// limit logarithmically; limits and criteria are the strictest of the parts.

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/error.hpp"
#include "cure/kinetics/resin.hpp"

namespace cure::kinetics {

struct BlendPart {
  double share = 0.0;  ///< by mass of mixed resin [-]
  Resin<double> resin;
};

/// @throws InputError when shares do not add up to 1 or a part's scheme has more than one state
inline Resin<double> blend(std::vector<BlendPart> const& parts) {
  double total = 0.0;
  for (auto const& p : parts) total += p.share;
  if (parts.size() < 2 || std::abs(total - 1.0) > 1e-9) {
    throw InputError(
        "components",
        std::to_string(parts.size()) + " with shares that add up to " + std::to_string(total),
        "two or more whose shares add up to 1");
  }
  auto const mean = [&](auto const& of) {
    double sum = 0.0;
    for (auto const& p : parts) sum += p.share * of(p.resin);
    return sum;
  };
  auto const linear = [&](LinearProperty<double> Resin<double>::*property) {
    LinearProperty<double> mix;
    mix.T_ref = (parts.front().resin.*property).T_ref;
    mix.reference = mean([&](auto const& r) { return (r.*property).at(mix.T_ref, 0.0); });
    mix.a_T = mean([&](auto const& r) { return (r.*property).a_T; });
    mix.a_alpha = mean([&](auto const& r) { return (r.*property).a_alpha; });
    return mix;
  };

  Resin<double> out = parts.front().resin;
  BlendedReaction<double> rate;
  out.estimated = true;
  bool viscous = true;
  for (auto const& p : parts) {
    auto const* single = std::get_if<SingleReaction<double>>(&p.resin.rate.reaction());
    if (single == nullptr) {
      throw InputError("components", "\"" + p.resin.id + "\"",
                       "resins of one rate law, without inhibitor or mechanism");
    }
    rate.parts.push_back({p.share, *single});
    viscous = viscous && p.resin.viscosity && p.resin.working_limit.viscosity;
    for (auto const& hazard : p.resin.hazards) {
      if (std::find(out.hazards.begin(), out.hazards.end(), hazard) == out.hazards.end()) {
        out.hazards.push_back(hazard);
      }
    }
    out.release_alpha_min = std::max(out.release_alpha_min, p.resin.release_alpha_min);
    out.release_Tg_margin = std::max(out.release_Tg_margin, p.resin.release_Tg_margin);
    out.Tg_above_midpoint = std::max(out.Tg_above_midpoint, p.resin.Tg_above_midpoint);
    out.evidence.add(p.resin.evidence);
    out.temperature_limit = std::min(out.temperature_limit, p.resin.temperature_limit);
    auto& valid = out.validity;
    valid.Tg_margin_max = std::min(valid.Tg_margin_max, p.resin.validity.Tg_margin_max);
    valid.temperature_min = std::max(valid.temperature_min, p.resin.validity.temperature_min);
    valid.temperature_max = std::min(valid.temperature_max, p.resin.validity.temperature_max);
    valid.alpha_max = std::min(valid.alpha_max, p.resin.validity.alpha_max);
  }
  out.rate = std::move(rate);
  out.initial_degree_of_cure = mean([](auto const& r) { return r.initial_degree_of_cure; });
  out.heat_of_reaction = mean([](auto const& r) { return r.heat_of_reaction; });
  out.density = linear(&Resin<double>::density);
  out.specific_heat = linear(&Resin<double>::specific_heat);
  out.conductivity = linear(&Resin<double>::conductivity);
  out.glass_transition = {mean([](auto const& r) { return r.glass_transition.Tg0; }),
                          mean([](auto const& r) { return r.glass_transition.Tg_inf; }),
                          mean([](auto const& r) { return r.glass_transition.lambda; })};
  out.alpha_gel = mean([](auto const& r) { return r.alpha_gel; });
  out.modulus.reset();
  out.shrinkage.reset();
  if (viscous) {
    out.viscosity = CastroMacosko<double>{
        std::exp(mean([](auto const& r) { return std::log(r.viscosity->eta0); })),
        mean([](auto const& r) { return r.viscosity->E; }),
        mean([](auto const& r) { return r.viscosity->A; }),
        mean([](auto const& r) { return r.viscosity->B; }), out.alpha_gel};
    out.working_limit.viscosity =
        std::exp(mean([](auto const& r) { return std::log(*r.working_limit.viscosity); }));
  } else {
    out.viscosity.reset();
    double strictest = 1.0;
    for (auto const& p : parts) {
      strictest = std::min(strictest, p.resin.working_limit.fraction_of_gel.value_or(1.0));
    }
    out.working_limit = {{}, strictest};
  }
  return out;
}

}  // namespace cure::kinetics
