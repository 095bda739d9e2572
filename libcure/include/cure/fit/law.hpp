#pragma once
/// The cure schemes that can be fitted, as functions of one flat list of parameters: those of a
/// base, which is any rate law, the epoxy-amine mechanism, or two reactions of order n in parallel,
/// and then, each when asked for,
///
///   ether      those of the epoxy-amine mechanism that may be left out
///   alpha0     ln_alpha0, of the initial degree of cure
///   diffusion  those of its form; of Chern-Poehlein the critical degree is that at T_ref, and
///              Rabinowitch rests on a glass transition that is known
///   inhibitor  those of the inhibitor
///
/// What each is called and where it is looked for stands with the law (fit_parameter.hpp).

#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/error.hpp"
#include "cure/fit/fit_parameter.hpp"
#include "cure/kinetics/cure_rate.hpp"

namespace cure::fit {

/// What can be fitted, by number: the rate laws, in the order of kinetics::RateLaw, and then these.
inline constexpr std::size_t epoxy_amine_base = std::variant_size_v<kinetics::RateLaw<double>>;
inline constexpr std::size_t parallel_base = epoxy_amine_base + 1;
inline constexpr std::size_t base_count = parallel_base + 1;

/// Two-branch laws need care in fits.
inline constexpr std::size_t two_branch_base = kinetics::law_number<kinetics::TwoBranch>;

/// Numbers of the forms of diffusion control.
template <class Form>
inline constexpr std::size_t diffusion_number =
    kinetics::number_in<Form, kinetics::DiffusionControl<double>>();

/// Degree of cure over which a fitted two-branch law passes from one branch to the other. A jump
/// would have no slope with the constants that move it; a calorimeter rounds it off as well. While
/// the switch is held nothing moves the jump, and rounding would only bias the branches: the time
/// through a rounded jump differs from that through a sharp one.
inline constexpr double switch_width = 0.002;

/// A held switch is as sharp as the exponential of its distance from the fresh mix can be.
inline double held_switch_width(double alpha_switch) { return alpha_switch / 600.0; }

namespace detail {

/// Constants of one of two reactions of order n, told apart by a suffix.
inline void add_branch(std::vector<FitParameter>& list, int number, std::string const& suffix,
                       double start_low, double start_high) {
  auto const place = "rate.branches[" + std::to_string(number) + "].";
  kinetics::each_constant<kinetics::NthOrder<double>>(
      [&]<class Member>(kinetics::LawConstant<Member> c) {
        if constexpr (kinetics::is_rate_constant<Member>) {
          c.search = {-14.0, 14.0, start_low, start_high};
        } else {
          c.search = {0.05, 8.0, 0.8, 2.0};
        }
        add_parameters(list, c, place, suffix);
      });
}

/// @param optional those that may be left out, or the others
template <class Law>
void add_law(std::vector<FitParameter>& list, std::string const& place, bool optional = false) {
  kinetics::each_constant<Law>([&](auto const& c) {
    if (c.may_be_left_out == optional) add_parameters(list, c, place);
  });
}

}  // namespace detail

struct Law {
  std::size_t base = kinetics::law_number<kinetics::KamalSourour>;  ///< below base_count
  bool ether = false;
  bool alpha0 = false;
  std::size_t diffusion = diffusion_number<kinetics::ChemicalControl>;
  bool inhibitor = false;
  double T_ref = 300.0;                              ///< [K]
  kinetics::DiBenedetto<double> glass_transition{};  ///< for Rabinowitch
  double width = switch_width;                       ///< of the two-branch law

  [[nodiscard]] std::vector<FitParameter> parameters() const {
    std::vector<FitParameter> list;
    kinetics::each_listed<kinetics::RateLaw<double>>([&]<std::size_t i>() {
      using Base = kinetics::Listed<i, kinetics::RateLaw<double>>;
      if (base == i) detail::add_law<Base>(list, "rate.");
    });
    using Amine = kinetics::EpoxyAmine<double>;
    if (base == epoxy_amine_base) detail::add_law<Amine>(list, "rate.");
    if (base == parallel_base) {
      list.push_back({.name = "share_a",
                      .key = "share_a",
                      .symbol = "share_a",
                      .unit = "1",
                      .low = 0.02,
                      .high = 0.98,
                      .start_low = 0.3,
                      .start_high = 0.7,
                      .path = "rate.branches[0].share"});
      detail::add_branch(list, 0, "_a", 0.0, 3.0);
      detail::add_branch(list, 1, "_b", -3.0, 0.0);
    }
    if (ether) detail::add_law<Amine>(list, "rate.", true);
    if (alpha0) {
      list.push_back({.name = "ln_alpha0",
                      .key = "alpha0",
                      .symbol = "ln α0",
                      .unit = "1",
                      .log = true,
                      .low = std::log(1e-8),
                      .high = std::log(0.3),
                      .start_low = std::log(1e-4),
                      .start_high = std::log(2e-2),
                      .path = "initial_degree_of_cure"});
    }
    kinetics::each_listed<kinetics::DiffusionControl<double>>([&]<std::size_t i>() {
      using Form = kinetics::Listed<i, kinetics::DiffusionControl<double>>;
      if (diffusion == i) detail::add_law<Form>(list, "diffusion.");
    });
    if (inhibitor) detail::add_law<kinetics::InhibitedReaction<double>>(list, "inhibitor.");
    return list;
  }
};

/// What can be fitted, as documents name it. @param base below base_count
inline char const* name_of_base(std::size_t base) {
  char const* name = base == parallel_base ? kinetics::ParallelReactions<double>::name
                                           : kinetics::EpoxyAmine<double>::name;
  kinetics::each_listed<kinetics::RateLaw<double>>([&]<std::size_t i>() {
    if (base == i) name = kinetics::Listed<i, kinetics::RateLaw<double>>::name;
  });
  return name;
}

/// Whether it cannot start from nothing.
inline bool base_needs_initial_cure(std::size_t base) {
  bool needed = false;
  kinetics::each_listed<kinetics::RateLaw<double>>([&]<std::size_t i>() {
    using Base = kinetics::Listed<i, kinetics::RateLaw<double>>;
    if (base == i) needed = kinetics::needs_initial_cure<Base>();
  });
  return needed;
}

inline std::vector<std::string> base_names() {
  std::vector<std::string> names;
  for (std::size_t i = 0; i < base_count; ++i) names.emplace_back(name_of_base(i));
  return names;
}

inline std::vector<std::string> diffusion_names() {
  std::vector<std::string> names;
  kinetics::each_listed<kinetics::DiffusionControl<double>>([&]<std::size_t i>() {
    names.emplace_back(kinetics::Listed<i, kinetics::DiffusionControl<double>>::name);
  });
  return names;
}

namespace detail {
inline std::size_t number_of(char const* field, std::string const& name,
                             std::vector<std::string> const& names) {
  std::string list;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (names[i] == name) return i;
    list += (i == 0 ? "" : ", ") + names[i];
  }
  throw InputError(field, "\"" + name + "\"", "one of " + list);
}
}  // namespace detail

/// Numbers of what documents name. @throws InputError
inline std::size_t base_named(std::string const& name) {
  return detail::number_of("law", name, base_names());
}
inline std::size_t diffusion_named(std::string const& name) {
  return detail::number_of("diffusion", name, diffusion_names());
}

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
  k::RateLaw<Scalar> first;
  k::RateLaw<Scalar> second;
  k::EpoxyAmine<Scalar> mechanism;
  Scalar share(1.0);
  k::each_listed<k::RateLaw<Scalar>>([&]<std::size_t i>() {
    if (law.base != i) return;
    auto own = take_law<k::Listed<i, k::RateLaw<Scalar>>>(p, T_ref);
    if constexpr (requires { own.width; }) own.width = law.width;
    first = std::move(own);
  });
  if (law.base == epoxy_amine_base) {
    mechanism = take_law<k::EpoxyAmine<Scalar>>(p, T_ref);
    if (law.ether) take_constants(mechanism, p, T_ref, true);
  } else if (law.base == parallel_base) {
    share = take();
    first = take_law<k::NthOrder<Scalar>>(p, T_ref);
    second = take_law<k::NthOrder<Scalar>>(p, T_ref);
  }
  Scalar const alpha0 = law.alpha0 ? exp(take()) : Scalar(0.0);
  k::DiffusionControl<Scalar> diffusion;
  k::each_listed<k::DiffusionControl<Scalar>>([&]<std::size_t i>() {
    if (law.diffusion == i)
      diffusion = take_law<k::Listed<i, k::DiffusionControl<Scalar>>>(p, T_ref);
  });
  if (auto* const c = std::get_if<k::ChernPoehlein<Scalar>>(&diffusion)) {
    c->alpha_c0 = c->alpha_c0 - c->alpha_cT * T_ref;
  } else if (auto* const r = std::get_if<k::Rabinowitch<Scalar>>(&diffusion)) {
    auto const& g = law.glass_transition;
    r->glass_transition = {Scalar(g.Tg0), Scalar(g.Tg_inf), Scalar(g.lambda)};
  }
  Scheme<Scalar> s;
  if (law.base == epoxy_amine_base) {
    s.initial = {alpha0, mechanism.hydrogens - Scalar(2.0) * alpha0, alpha0};
    mechanism.diffusion = std::move(diffusion);
    s.rate = std::move(mechanism);
  } else if (law.base == parallel_base) {
    k::ParallelReactions<Scalar> both;
    both.branches.push_back({share, {std::move(first), diffusion}});
    both.branches.push_back({Scalar(1.0) - share, {std::move(second), diffusion}});
    s.rate = std::move(both);
    s.initial = {alpha0, alpha0};
  } else if (law.inhibitor) {
    auto inhibited = take_law<k::InhibitedReaction<Scalar>>(p, T_ref);
    inhibited.reaction = {std::move(first), std::move(diffusion)};
    s.rate = std::move(inhibited);
    s.initial = {alpha0, Scalar(1.0)};
  } else {
    s.rate = k::CureRate<Scalar>(std::move(first), std::move(diffusion));
    s.initial = {alpha0};
  }
  return s;
}

}  // namespace cure::fit
