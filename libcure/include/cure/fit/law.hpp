#pragma once
/// The cure schemes that can be fitted, as functions of one flat list of parameters. Rate constants
/// are in the centred Arrhenius form, with the natural logarithm of k at T_ref as the parameter, so
/// that they stay positive and nearly uncorrelated with E.
///
/// base          parameters
/// nth_order     ln_k, E, n
/// autocatalytic ln_k, E, m, n
/// kamal_sourour ln_k1, E1, ln_k2, E2, m, n
/// two_branch    ln_k1, E1, k2_over_k1, E2, ln_k3, E3, B, alpha_switch   (k2 may be negative: its
///               ratio to k1 at T_ref is the parameter)
/// epoxy_amine   ln_k_0, E_0, ln_k_h, E_h, reactivity, hydrogens, hydroxyl
/// parallel      share_a, ln_k_a, E_a, n_a, ln_k_b, E_b, n_b   (two of order n, shares of the heat)
/// then, when asked for:
/// ether         ln_k_ether, E_ether        of epoxy_amine
/// alpha0        ln_alpha0                  initial degree of cure
/// diffusion     C, alpha_c, alpha_cT       Chern-Poehlein; alpha_c is the critical degree at T_ref
///               ln_k_d0, C1, C2            Rabinowitch, with a glass transition that is known
/// inhibitor     ln_k_z, E_z, ln_epsilon
/// E in J/mol, k in 1/s, alpha_cT in 1/K, C2 in K.

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "cure/kinetics/cure_rate.hpp"

namespace cure::fit {

enum class Base { nth_order, autocatalytic, kamal_sourour, two_branch, epoxy_amine, parallel };
enum class Diffusion { none, chern_poehlein, rabinowitch };

/// Degree of cure over which a fitted two-branch law passes from one branch to the other. A jump
/// would have no slope with the constants that move it; a calorimeter rounds it off as well. While
/// the switch is held nothing moves the jump, and rounding would only bias the branches: the time
/// through a rounded jump differs from that through a sharp one.
inline constexpr double switch_width = 0.002;

/// A held switch is as sharp as the exponential of its distance from the fresh mix can be.
inline double held_switch_width(double alpha_switch) { return alpha_switch / 600.0; }

struct Law {
  Base base = Base::kamal_sourour;
  bool ether = false;
  bool alpha0 = false;
  Diffusion diffusion = Diffusion::none;
  bool inhibitor = false;
  double T_ref = 300.0;                              ///< [K]
  kinetics::DiBenedetto<double> glass_transition{};  ///< for Rabinowitch
  double width = switch_width;                       ///< of two_branch

  [[nodiscard]] std::vector<std::string> parameters() const {
    std::vector<std::string> p;
    auto const add = [&](std::vector<std::string> const& names) {
      p.insert(p.end(), names.begin(), names.end());
    };
    switch (base) {
      case Base::nth_order: add({"ln_k", "E", "n"}); break;
      case Base::autocatalytic: add({"ln_k", "E", "m", "n"}); break;
      case Base::kamal_sourour: add({"ln_k1", "E1", "ln_k2", "E2", "m", "n"}); break;
      case Base::two_branch:
        add({"ln_k1", "E1", "k2_over_k1", "E2", "ln_k3", "E3", "B", "alpha_switch"});
        break;
      case Base::epoxy_amine:
        add({"ln_k_0", "E_0", "ln_k_h", "E_h", "reactivity", "hydrogens", "hydroxyl"});
        break;
      case Base::parallel: add({"share_a", "ln_k_a", "E_a", "n_a", "ln_k_b", "E_b", "n_b"}); break;
    }
    if (ether) add({"ln_k_ether", "E_ether"});
    if (alpha0) add({"ln_alpha0"});
    if (diffusion == Diffusion::chern_poehlein) add({"C", "alpha_c", "alpha_cT"});
    if (diffusion == Diffusion::rabinowitch) add({"ln_k_d0", "C1", "C2"});
    if (inhibitor) add({"ln_k_z", "E_z", "ln_epsilon"});
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
  k::EpoxyAmine<Scalar> mechanism;
  Scalar share(1.0);
  switch (law.base) {
    case Base::nth_order: first = k::NthOrder<Scalar>{arrhenius(), take()}; break;
    case Base::autocatalytic: first = k::Autocatalytic<Scalar>{arrhenius(), take(), take()}; break;
    case Base::kamal_sourour:
      first = k::KamalSourour<Scalar>{arrhenius(), arrhenius(), take(), take()};
      break;
    case Base::two_branch: {
      auto const k1 = arrhenius();
      Scalar const ratio = take(), E2 = take();
      auto const k2 = k::Arrhenius<Scalar>::centred(ratio * k1.k_ref, E2, T_ref);
      first = k::TwoBranch<Scalar>{k1, k2, arrhenius(), take(), take(), law.width};
      break;
    }
    case Base::epoxy_amine:
      mechanism = {arrhenius(), arrhenius(), {}, take(), take(), take(), {}};
      if (law.ether) mechanism.k_ether = arrhenius();
      break;
    case Base::parallel:
      share = take();
      first = k::NthOrder<Scalar>{arrhenius(), take()};
      second = k::NthOrder<Scalar>{arrhenius(), take()};
      break;
  }
  Scalar const alpha0 = law.alpha0 ? exp(take()) : Scalar(0.0);
  k::DiffusionControl<Scalar> diffusion;
  if (law.diffusion == Diffusion::chern_poehlein) {
    Scalar const C = take(), alpha_c = take(), slope = take();
    diffusion = k::ChernPoehlein<Scalar>{C, alpha_c - slope * T_ref, slope};
  } else if (law.diffusion == Diffusion::rabinowitch) {
    Scalar const k_d0 = exp(take()), C1 = take(), C2 = take();
    auto const& g = law.glass_transition;
    diffusion =
        k::Rabinowitch<Scalar>{k_d0, C1, C2, {Scalar(g.Tg0), Scalar(g.Tg_inf), Scalar(g.lambda)}};
  }
  Scheme<Scalar> s;
  if (law.base == Base::epoxy_amine) {
    s.initial = {alpha0, mechanism.hydrogens - Scalar(2.0) * alpha0, alpha0};
    mechanism.diffusion = std::move(diffusion);
    s.rate = std::move(mechanism);
  } else if (law.base == Base::parallel) {
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
