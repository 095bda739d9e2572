#pragma once
/// Cure schemes: how many state variables a point of resin has, and their slopes. The first state
/// is always the degree of cure alpha.
///
/// SingleReaction     one rate law with diffusion control; state (alpha)
/// BlendedReaction    hardeners in shares on one degree of cure; state (alpha)
/// OwnRate            a law of a user's own (own_rate.hpp); state (alpha)
/// InhibitedReaction  a free-radical resin whose inhibitor must be spent first; state (alpha, z), z
///                    the share of inhibitor left. Radicals form at k_z(T) and go to inhibitor or
///                    monomer in the ratio z : epsilon (steady-state radical balance; e.g. J.F.
///                    Stevenson, Polym. Eng. Sci. 26, 746, 1986, from memory):
///                      dz/dt = -k_z z/(z+epsilon),   d(alpha)/dt = f(T, alpha) epsilon/(z+epsilon)
/// ParallelReactions  independent reactions, alpha = sum of share_i alpha_i by heat; diffusion
/// control
///                    sees the overall alpha; state (alpha, alpha_1 .. alpha_{P-1})
/// EpoxyAmine         mechanistic (K. Horie et al., J. Polym. Sci. A-1 8, 1357, 1970): primary and
///                    secondary amine hydrogens add to epoxide, catalysed by hydroxyl and by an
///                    impurity, with optional etherification. State (alpha, p, s): epoxide
///                    converted, primary and secondary hydrogens left, all per initial epoxide.
///                    With x = 1 - alpha, amine additions a = hydrogens - p - s, hydroxyl h = h0 +
///                    a (an ether hands its hydroxyl on) and K = k_0 + k_h h:
///                      dp/dt = -2 K x p        (a primary group loses both its primary hydrogens,
///                      ds/dt = K x p - rho K x s        and leaves one secondary)
///                      d(alpha)/dt = K x p + rho K x s + k_ether x h

#include <array>
#include <cstddef>
#include <tuple>
#include <utility>
#include <variant>
#include <vector>

#include "cure/kinetics/diffusion.hpp"
#include "cure/kinetics/own_rate.hpp"
#include "cure/kinetics/rate_law.hpp"
#include "cure/scalar.hpp"

namespace cure::kinetics {

/// Most states that a scheme may have.
inline constexpr std::size_t max_states = 4;

template <class Parameter>
struct SingleReaction {
  RateLaw<Parameter> law;
  DiffusionControl<Parameter> diffusion;

  /// The rate with its partial derivatives.
  template <class Scalar>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha) const {
    return std::visit(
        [&](auto const& f, auto const& d) { return f.rate(T, alpha, d.at(T, alpha)); }, law,
        diffusion);
  }
  /// The rate at `alpha` while diffusion is governed by `overall`.
  template <class Scalar>
  [[nodiscard]] Scalar rate_within(Scalar const& T, Scalar const& alpha,
                                   Scalar const& overall) const {
    return std::visit(
        [&](auto const& f, auto const& d) { return f.rate(T, alpha, d.at(T, overall)).value; }, law,
        diffusion);
  }

  bool operator==(SingleReaction const&) const = default;
};

/// Hardeners blended in shares: each adds its share of its own rate at the common degree of cure
/// (every hardener meets the same epoxide; a mixing rule of this project, an assumption).
template <class Parameter>
struct BlendedReaction {
  struct Part {
    Parameter share{0.0};  ///< [-]; all shares add up to 1
    SingleReaction<Parameter> reaction;

    bool operator==(Part const&) const = default;
  };
  std::vector<Part> parts;

  template <class Scalar>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha) const {
    Partial<Scalar> sum;
    for (auto const& part : parts) {
      auto const p = part.reaction.rate(T, alpha);
      sum.value += part.share * p.value;
      sum.dT += part.share * p.dT;
      sum.dalpha += part.share * p.dalpha;
    }
    return sum;
  }

  bool operator==(BlendedReaction const&) const = default;
};

template <class Parameter>
struct InhibitedReaction {
  SingleReaction<Parameter> reaction;
  Arrhenius<Parameter> k_z;  ///< rate of radical formation over initial inhibitor [1/s]
  Parameter epsilon{0.01};   ///< inhibitor share at which half the radicals reach monomer [-]

  /// Of the inhibitor; those of the reaction are its law's.
  static constexpr auto constants() {
    return std::tuple{
        rate_constant(&InhibitedReaction::k_z, "k_z", -2.0, 2.0)
            .with_energy({5e3, 400e3, 50e3, 130e3}),
        plain_constant(&InhibitedReaction::epsilon, "epsilon",
                       {.low = 0.0, .high = 1.0, .above = true}, {1e-4, 0.9, 3e-3, 1e-1})
            .as_logarithm()
            .shown_as("ε")};
  }

  static constexpr std::size_t states() { return 2; }
  template <class Scalar>
  void slopes(Scalar const& T, Scalar const* x, Scalar* f) const {
    // A trial point may overshoot zero; no inhibitor is then left.
    Scalar const z = x[1] > Scalar(0.0) ? x[1] : Scalar(0.0);
    Scalar const to_inhibitor = z / (z + epsilon);
    f[0] = reaction.rate(T, x[0]).value * (Scalar(1.0) - to_inhibitor);
    f[1] = -k_z.at(T).value * to_inhibitor;
  }
  static std::vector<double> initial(double alpha0) { return {alpha0, 1.0}; }

  bool operator==(InhibitedReaction const&) const = default;
};

template <class Parameter>
struct ParallelReactions {
  static constexpr char const* name = "parallel";

  struct Branch {
    Parameter share{0.0};  ///< of the heat [-]; all shares add up to 1
    SingleReaction<Parameter> reaction;

    bool operator==(Branch const&) const = default;
  };
  std::vector<Branch> branches;  ///< 2 to max_states

  [[nodiscard]] std::size_t states() const { return branches.size(); }
  template <class Scalar>
  void slopes(Scalar const& T, Scalar const* x, Scalar* f) const {
    auto const last = branches.size() - 1;
    Scalar rest = x[0];
    f[0] = Scalar(0.0);
    for (std::size_t i = 0; i < last; ++i) {
      rest -= branches[i].share * x[i + 1];
      f[i + 1] = branches[i].reaction.rate_within(T, x[i + 1], x[0]);
      f[0] += branches[i].share * f[i + 1];
    }
    Scalar const alpha_last = rest / branches[last].share;
    f[0] += branches[last].share * branches[last].reaction.rate_within(T, alpha_last, x[0]);
  }
  [[nodiscard]] std::vector<double> initial(double alpha0) const {
    return std::vector<double>(branches.size(), alpha0);
  }

  bool operator==(ParallelReactions const&) const = default;
};

template <class Parameter>
struct EpoxyAmine {
  Arrhenius<Parameter> k_0;      ///< uncatalysed or impurity-catalysed [1/s]
  Arrhenius<Parameter> k_h;      ///< hydroxyl-catalysed, at one hydroxyl per epoxide [1/s]
  Arrhenius<Parameter> k_ether;  ///< etherification, at one hydroxyl per epoxide [1/s]
  Parameter reactivity{1.0};     ///< secondary over primary amine hydrogen, rate constants [-]
  Parameter hydrogens{1.0};      ///< amine hydrogens per epoxide at the start [-]
  Parameter hydroxyl{0.0};       ///< hydroxyls per epoxide at the start [-]
  DiffusionControl<Parameter> diffusion{};

  static constexpr char const* name = "epoxy-amine";
  static constexpr auto constants() {
    Range const ratio{.low = 0.0, .high = 100.0};
    return std::tuple{
        rate_constant(&EpoxyAmine::k_0, "k_0", -6.0, -1.0),
        rate_constant(&EpoxyAmine::k_h, "k_h", -0.5, 2.0),
        rate_constant(&EpoxyAmine::k_ether, "k_ether", -5.0, -1.0).optional(),
        plain_constant(&EpoxyAmine::reactivity, "reactivity", ratio, {0.01, 10.0, 0.3, 1.2}),
        plain_constant(&EpoxyAmine::hydrogens, "hydrogens", ratio, {0.05, 5.0, 0.9, 1.1})
            .told_by_recipe("amine hydrogens per epoxide"),
        plain_constant(&EpoxyAmine::hydroxyl, "hydroxyl", ratio, {0.0, 2.0, 0.01, 0.2})
            .told_by_recipe("hydroxyls per epoxide of the fresh mix")};
  }

  static constexpr std::size_t states() { return 3; }
  template <class Scalar>
  void slopes(Scalar const& T, Scalar const* x, Scalar* f) const {
    std::visit(
        [&](auto const& d) {
          auto const limit = d.at(T, x[0]);
          Scalar const epoxide = x[0] < Scalar(1.0) ? Scalar(1.0) - x[0] : Scalar(0.0);
          Scalar const p = x[1] > Scalar(0.0) ? x[1] : Scalar(0.0);
          Scalar const s = x[2] > Scalar(0.0) ? x[2] : Scalar(0.0);
          Scalar const amine_additions = hydrogens - p - s;
          Scalar const hydroxyls = hydroxyl + amine_additions;
          Scalar const K = limit.apply(k_0.at(T)).value + limit.apply(k_h.at(T)).value * hydroxyls;
          Scalar const primary = K * epoxide * p;
          Scalar const secondary = reactivity * K * epoxide * s;
          Scalar const ether = limit.apply(k_ether.at(T)).value * epoxide * hydroxyls;
          f[0] = primary + secondary + ether;
          f[1] = Scalar(-2.0) * primary;
          f[2] = primary - secondary;
        },
        diffusion);
  }
  [[nodiscard]] std::vector<double> initial(double alpha0) const {
    double const h = value_of(hydrogens);
    // The first conversion is on primary groups: each addition takes two primary hydrogens out and
    // leaves one secondary.
    return {alpha0, h - 2.0 * alpha0, alpha0};
  }

  bool operator==(EpoxyAmine const&) const = default;
};

template <class Parameter>
using Reaction = std::variant<SingleReaction<Parameter>, BlendedReaction<Parameter>,
                              InhibitedReaction<Parameter>, ParallelReactions<Parameter>,
                              EpoxyAmine<Parameter>, OwnRate<Parameter>>;

}  // namespace cure::kinetics
