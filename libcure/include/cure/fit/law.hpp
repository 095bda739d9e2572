#pragma once
/// The cure schemes that can be fitted, as functions of one flat list of parameters. Rate constants
/// are in the centred Arrhenius form, with the natural logarithm of k at T_ref as the parameter, so
/// that they stay positive and nearly uncorrelated with E.
///
/// base          parameters
/// nth_order     ln_k, E, n
/// autocatalytic ln_k, E, m, n
/// kamal_sourour ln_k1, E1, ln_k2, E2, m, n
/// parallel      share_a, ln_k_a, E_a, n_a, ln_k_b, E_b, n_b   (two of order n, shares of the heat)
/// then, when asked for:
/// alpha0        ln_alpha0                  initial degree of cure
/// diffusion     C, alpha_c, alpha_cT       Chern-Poehlein; alpha_c is the critical degree at T_ref
/// inhibitor     ln_k_z, E_z, ln_epsilon
/// E in J/mol, k in 1/s, alpha_cT in 1/K.

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "cure/kinetics/cure_rate.hpp"

namespace cure::fit {

enum class Base { nth_order, autocatalytic, kamal_sourour, parallel };

struct Law {
  Base base = Base::kamal_sourour;
  bool alpha0 = false;
  bool diffusion = false;
  bool inhibitor = false;
  double T_ref = 300.0;  ///< [K]

  [[nodiscard]] std::vector<std::string> parameters() const {
    std::vector<std::string> p;
    switch (base) {
      case Base::nth_order: p = {"ln_k", "E", "n"}; break;
      case Base::autocatalytic: p = {"ln_k", "E", "m", "n"}; break;
      case Base::kamal_sourour: p = {"ln_k1", "E1", "ln_k2", "E2", "m", "n"}; break;
      case Base::parallel: p = {"share_a", "ln_k_a", "E_a", "n_a", "ln_k_b", "E_b", "n_b"}; break;
    }
    if (alpha0) p.push_back("ln_alpha0");
    if (diffusion) p.insert(p.end(), {"C", "alpha_c", "alpha_cT"});
    if (inhibitor) p.insert(p.end(), {"ln_k_z", "E_z", "ln_epsilon"});
    return p;
  }
};

/// A law with its parameters put in.
template <class Scalar>
struct Scheme {
  kinetics::CureRate<Scalar> rate;
  std::vector<Scalar> initial;  ///< states of the fresh mix
};

/// @param p as many as Law::parameters() names
template <class Scalar>
Scheme<Scalar> scheme_of(Law const& law, Scalar const* p) {
  namespace k = kinetics;
  Scalar const T_ref(law.T_ref);
  auto const take = [&] { return *p++; };
  auto const arrhenius = [&] {
    Scalar const k_ref = exp(take());
    Scalar const E = take();
    return k::Arrhenius<Scalar>::centred(k_ref, E, T_ref);
  };
  // Braced lists are read from left to right.
  k::RateLaw<Scalar> first;
  k::RateLaw<Scalar> second;
  Scalar share(1.0);
  switch (law.base) {
    case Base::nth_order: first = k::NthOrder<Scalar>{arrhenius(), take()}; break;
    case Base::autocatalytic: first = k::Autocatalytic<Scalar>{arrhenius(), take(), take()}; break;
    case Base::kamal_sourour:
      first = k::KamalSourour<Scalar>{arrhenius(), arrhenius(), take(), take()};
      break;
    case Base::parallel:
      share = take();
      first = k::NthOrder<Scalar>{arrhenius(), take()};
      second = k::NthOrder<Scalar>{arrhenius(), take()};
      break;
  }
  Scalar const alpha0 = law.alpha0 ? exp(take()) : Scalar(0.0);
  k::DiffusionControl<Scalar> diffusion;
  if (law.diffusion) {
    Scalar const C = take(), alpha_c = take(), slope = take();
    diffusion = k::ChernPoehlein<Scalar>{C, alpha_c - slope * T_ref, slope};
  }
  Scheme<Scalar> s;
  if (law.base == Base::parallel) {
    k::ParallelReactions<Scalar> both;
    both.branches.push_back({share, {std::move(first), diffusion}});
    both.branches.push_back({Scalar(1.0) - share, {std::move(second), diffusion}});
    s.rate = std::move(both);
    s.initial = {alpha0, alpha0};
  } else if (law.inhibitor) {
    k::InhibitedReaction<Scalar> inhibited;
    inhibited.reaction = {std::move(first), std::move(diffusion)};
    inhibited.k_z = arrhenius();
    inhibited.epsilon = exp(take());
    s.rate = std::move(inhibited);
    s.initial = {alpha0, Scalar(1.0)};
  } else {
    s.rate = k::CureRate<Scalar>(std::move(first), std::move(diffusion));
    s.initial = {alpha0};
  }
  return s;
}

}  // namespace cure::fit
