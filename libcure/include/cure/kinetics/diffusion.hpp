#pragma once
/// Diffusion control: what slows a chemical rate constant k down as the resin vitrifies.
/// Each form is evaluated once a point (`at`) and then applied to every rate constant of the law,
/// or, where it is one factor for all of them (`one_factor`), to the rate.
///
/// ChernPoehlein: k_e = k / (1 + exp(C (alpha - alpha_c))), alpha_c = alpha_c0 + alpha_cT T
///   (C.-S. Chern, G.W. Poehlein, Polym. Eng. Sci. 27, 788, 1987; in this form for epoxies by
///   K.C. Cole, J.J. Hechler, D. Noel, Macromolecules 24, 3098, 1991).
/// Rabinowitch: 1/k_e = 1/k + 1/k_d for each rate constant k of the law (E. Rabinowitch, Trans.
/// Faraday Soc. 33, 1225, 1937), with the
///   WLF-type mobility k_d = k_d0 exp(C1 (T - Tg)/(C2 + |T - Tg|)), which holds below Tg too
///   (G. Wisanrakkit, J.K. Gillham, J. Appl. Polym. Sci. 41, 2885, 1990; reference from memory).

#include <tuple>
#include <variant>

#include "cure/kinetics/glass_transition.hpp"
#include "cure/kinetics/law_constant.hpp"
#include "cure/scalar.hpp"

namespace cure::kinetics {

/// No diffusion control.
struct ChemicalControl {
  static constexpr char const* name = "none";
  static constexpr auto constants() { return std::tuple{}; }

  struct Point {
    static constexpr bool one_factor = true;
    template <class Scalar>
    Partial<Scalar> apply(Partial<Scalar> const& k) const {
      return k;
    }
  };
  template <class Scalar>
  [[nodiscard]] Point at(Scalar const& /*T*/, Scalar const& /*alpha*/) const {
    return {};
  }

  bool operator==(ChemicalControl const&) const = default;
};

template <class Parameter>
struct ChernPoehlein {
  Parameter C{0.0};         ///< sharpness [-]
  Parameter alpha_c0{1.0};  ///< critical degree of cure, extrapolated to 0 K [-]
  Parameter alpha_cT{0.0};  ///< its slope with temperature [1/K]

  static constexpr char const* name = "chern-poehlein";
  /// A fit has the critical degree at its reference temperature in the place of alpha_c0.
  static constexpr auto constants() {
    return std::tuple{
        plain_constant(&ChernPoehlein::C, "C", {.low = 0.0, .above = true},
                       {2.0, 200.0, 15.0, 60.0}),
        plain_constant(&ChernPoehlein::alpha_c0, "alpha_c0", {}, {0.1, 1.5, 0.6, 0.95})
            .fitted_as("alpha_c")
            .shown_as("αc"),
        plain_constant(&ChernPoehlein::alpha_cT, "alpha_cT", {}, {-0.005, 0.02, 0.001, 0.006},
                       units::Kind::inverse_temperature)
            .shown_as("αcT")};
  }

  template <class Scalar>
  struct Point {
    static constexpr bool one_factor = true;
    Partial<Scalar> factor;
    Partial<Scalar> apply(Partial<Scalar> const& k) const {
      return {k.value * factor.value, k.dT * factor.value + k.value * factor.dT,
              k.dalpha * factor.value + k.value * factor.dalpha};
    }
  };

  template <class Scalar>
  [[nodiscard]] Point<Scalar> at(Scalar const& T, Scalar const& alpha) const {
    Scalar const x = C * (alpha - alpha_c0 - alpha_cT * T);
    // Written with the decaying exponential on either side, so that neither end overflows.
    auto const limited = x > Scalar(0.0);
    Scalar const e = exp(select(limited, -x, x));
    Scalar const share = Scalar(1.0) / (Scalar(1.0) + e);
    Scalar const f = select(limited, e, Scalar(1.0)) * share;
    Scalar const slope = -C * e * share * share;
    return {{f, -slope * alpha_cT, slope}};
  }

  bool operator==(ChernPoehlein const&) const = default;
};

template <class Parameter>
struct Rabinowitch {
  Parameter k_d0{0.0};  ///< rate constant of diffusion at T = Tg [1/s]
  Parameter C1{0.0};    ///< first WLF constant, natural logarithm [-]
  Parameter C2{0.0};    ///< second WLF constant [K]
  DiBenedetto<Parameter> glass_transition{};

  static constexpr char const* name = "rabinowitch";
  static constexpr auto constants() {
    Range const positive{.low = 0.0, .above = true};
    return std::tuple{plain_constant(&Rabinowitch::k_d0, "k_d0", positive, {-14.0, 14.0, -4.0, 4.0},
                                     units::Kind::rate)
                          .as_logarithm(),
                      plain_constant(&Rabinowitch::C1, "C1", positive, {1.0, 150.0, 20.0, 60.0}),
                      plain_constant(&Rabinowitch::C2, "C2", positive, {5.0, 500.0, 30.0, 80.0},
                                     units::Kind::temperature_difference)};
  }

  template <class Scalar>
  struct Point {
    static constexpr bool one_factor = false;
    Partial<Scalar> k_d;
    Partial<Scalar> apply(Partial<Scalar> const& k) const {
      Scalar const sum = k.value + k_d.value;
      // Both constants may be nothing at all.
      Scalar const whole = select(sum > Scalar(0.0), sum, Scalar(1.0));
      Scalar const a = k_d.value / whole;  // dk_e/dk = a^2
      Scalar const b = k.value / whole;    // dk_e/dk_d = b^2
      return {k.value * a, a * a * k.dT + b * b * k_d.dT, a * a * k.dalpha + b * b * k_d.dalpha};
    }
  };

  template <class Scalar>
  [[nodiscard]] Point<Scalar> at(Scalar const& T, Scalar const& alpha) const {
    auto const Tg = glass_transition.at(alpha);
    Scalar const x = T - Tg.value;
    Scalar const s = C2 + abs(x);
    Scalar const k_d = k_d0 * exp(C1 * x / s);
    Scalar const slope = k_d * C1 * C2 / (s * s);
    return {{k_d, slope, -slope * Tg.dalpha}};
  }

  bool operator==(Rabinowitch const&) const = default;
};

template <class Parameter>
using DiffusionControl =
    std::variant<ChemicalControl, ChernPoehlein<Parameter>, Rabinowitch<Parameter>>;

}  // namespace cure::kinetics
