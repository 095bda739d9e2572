#pragma once
/// The cure scheme of a model file: rate law, diffusion control, inhibitor, parallel branches.

#include <array>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/quantity.hpp"
#include "cure/kinetics/cure_rate.hpp"

namespace cure::io::detail {

inline kinetics::Arrhenius<double> read_arrhenius(Reader& parent, std::string const& key) {
  auto k = parent.object(key);
  double const E = quantity(k, "E", units::Kind::molar_energy, {.low = 0.0, .high = 1e6});
  kinetics::Arrhenius<double> law;
  if (k.has("k_ref")) {
    law = kinetics::Arrhenius<double>::centred(
        quantity(k, "k_ref", units::Kind::rate, any()), E,
        quantity(k, "T_ref", units::Kind::temperature, temperature()));
  } else {
    law = kinetics::Arrhenius<double>::from_A(quantity(k, "A", units::Kind::rate, any()), E);
  }
  k.finish();
  return law;
}

/// The single-reaction law that stands in `rate`; `law` has been read.
inline kinetics::RateLaw<double> read_law(Reader& rate, std::string const& law) {
  Range const exponent{.low = 0.0, .high = 10.0};
  auto const power = [&](char const* key) {
    return quantity(rate, key, units::Kind::number, exponent);
  };
  if (law == "nth-order") {
    return kinetics::NthOrder<double>{read_arrhenius(rate, "k"), power("n")};
  }
  if (law == "autocatalytic") {
    return kinetics::Autocatalytic<double>{read_arrhenius(rate, "k"), power("m"), power("n")};
  }
  if (law == "kamal-sourour") {
    return kinetics::KamalSourour<double>{read_arrhenius(rate, "k1"), read_arrhenius(rate, "k2"),
                                          power("m"), power("n")};
  }
  return kinetics::TwoBranch<double>{
      read_arrhenius(rate, "k1"), read_arrhenius(rate, "k2"), read_arrhenius(rate, "k3"),
      quantity(rate, "B", units::Kind::number, fraction()),
      quantity(rate, "alpha_switch", units::Kind::number, fraction())};
}

inline std::vector<std::string> const& single_laws() {
  static std::vector<std::string> const laws{"nth-order", "autocatalytic", "kamal-sourour",
                                             "two-branch"};
  return laws;
}

inline kinetics::DiffusionControl<double> read_diffusion(
    Reader& resin, kinetics::DiBenedetto<double> const& glass_transition) {
  auto d = resin.object("diffusion");
  auto const form = d.choice("form", {"none", "chern-poehlein", "rabinowitch"});
  auto const pure = [&](char const* key, Range const& range) {
    return quantity(d, key, units::Kind::number, range);
  };
  kinetics::DiffusionControl<double> out;
  if (form == "chern-poehlein") {
    out = kinetics::ChernPoehlein<double>{
        pure("C", positive()), pure("alpha_c0", any()),
        quantity(d, "alpha_cT", units::Kind::inverse_temperature, any())};
  } else if (form == "rabinowitch") {
    out = kinetics::Rabinowitch<double>{
        quantity(d, "k_d0", units::Kind::rate, positive()), pure("C1", positive()),
        quantity(d, "C2", units::Kind::temperature_difference, positive()), glass_transition};
  }
  d.finish();
  return out;
}

inline kinetics::EpoxyAmine<double> read_epoxy_amine(Reader& rate,
                                                     kinetics::DiffusionControl<double> diffusion) {
  Range const ratio{.low = 0.0, .high = 100.0};
  auto const number = [&](char const* key) {
    return quantity(rate, key, units::Kind::number, ratio);
  };
  kinetics::EpoxyAmine<double> scheme;
  scheme.k_0 = read_arrhenius(rate, "k_0");
  scheme.k_h = read_arrhenius(rate, "k_h");
  if (rate.has("k_ether")) scheme.k_ether = read_arrhenius(rate, "k_ether");
  scheme.reactivity = number("reactivity");
  scheme.hydrogens = number("hydrogens");
  scheme.hydroxyl = number("hydroxyl");
  scheme.diffusion = std::move(diffusion);
  return scheme;
}

inline kinetics::ParallelReactions<double> read_parallel(
    Reader& rate, kinetics::DiffusionControl<double> const& diffusion) {
  kinetics::ParallelReactions<double> scheme;
  double total = 0.0;
  for (auto& branch : rate.objects("branches")) {
    double const share =
        quantity(branch, "share", units::Kind::number, {.low = 0.0, .high = 1.0, .above = true});
    total += share;
    auto const law = branch.choice("law", single_laws());
    scheme.branches.push_back({share, {read_law(branch, law), diffusion}});
    branch.finish();
  }
  auto const n = scheme.branches.size();
  if (n < 2 || n > kinetics::max_states) {
    rate.fail("branches", std::to_string(n) + " branches",
              "2 to " + std::to_string(kinetics::max_states));
  }
  if (std::abs(total - 1.0) > 1e-9) {
    rate.fail("branches", "shares that add up to " + shown(total), "shares that add up to 1");
  }
  return scheme;
}

/// The whole cure scheme of a resin document.
inline kinetics::CureRate<double> read_cure_rate(
    Reader& resin, kinetics::DiBenedetto<double> const& glass_transition) {
  auto diffusion = read_diffusion(resin, glass_transition);
  auto rate = resin.object("rate");
  auto choices = single_laws();
  choices.insert(choices.end(), {"epoxy-amine", "parallel"});
  auto const law = rate.choice("law", choices);
  kinetics::CureRate<double> out;
  if (law == "epoxy-amine") {
    out = read_epoxy_amine(rate, std::move(diffusion));
  } else if (law == "parallel") {
    out = read_parallel(rate, diffusion);
  } else {
    kinetics::SingleReaction<double> single{read_law(rate, law), std::move(diffusion)};
    if (resin.has("inhibitor")) {
      auto inhibitor = resin.object("inhibitor");
      kinetics::InhibitedReaction<double> scheme;
      scheme.reaction = std::move(single);
      scheme.k_z = read_arrhenius(inhibitor, "k_z");
      scheme.epsilon = quantity(inhibitor, "epsilon", units::Kind::number,
                                {.low = 0.0, .high = 1.0, .above = true});
      inhibitor.finish();
      out = std::move(scheme);
    } else {
      out = std::move(single);
    }
  }
  rate.finish();
  return out;
}

}  // namespace cure::io::detail
