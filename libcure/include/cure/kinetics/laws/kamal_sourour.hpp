#pragma once
/// (k1 + k2 alpha^m)(1-alpha)^n (M.R. Kamal, S. Sourour, Polym. Eng. Sci. 13, 59, 1973).

#include <tuple>

#include "cure/kinetics/law_constant.hpp"
#include "cure/kinetics/rate_term.hpp"

namespace cure::kinetics {

template <class Parameter>
struct KamalSourour {
  Arrhenius<Parameter> k1;
  Arrhenius<Parameter> k2;
  Parameter m{1.0};  ///< exponent of alpha [-]
  Parameter n{1.0};  ///< exponent of 1 - alpha [-]

  static constexpr char const* name = "kamal-sourour";
  static constexpr auto constants() {
    return std::tuple{rate_constant(&KamalSourour::k1, "k1", -6.0, -0.5),
                      rate_constant(&KamalSourour::k2, "k2", -0.5, 2.5),
                      exponent_of_alpha(&KamalSourour::m, "m"), order(&KamalSourour::n, "n")};
  }

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    Base<Scalar> const grown(alpha), left(Scalar(1.0) - alpha);
    auto const r1 = rate_term(k1, T, n, left, limit);
    auto const r2 = rate_term(k2, T, m, grown, n, left, limit);
    return limited_once(Partial<Scalar>{r1.value + r2.value, r1.dT + r2.dT, r1.dalpha + r2.dalpha},
                        limit);
  }

  /// Forms with fewer functions, which packs of cells take where the constants allow it. For m = 1
  /// there is no logarithm of alpha; where E and the reference temperature are the same for both
  /// rate constants too, one exponential serves both.
  enum Form : std::size_t { general, first_power, one_energy };
  static constexpr std::size_t forms = 3;
  [[nodiscard]] std::size_t form() const {
    if (m != 1.0) return general;
    bool const alike = k1.E == k2.E && k1.inverse_T_ref == k2.inverse_T_ref && k2.k_ref > 0.0;
    return alike ? one_energy : first_power;
  }
  template <std::size_t form, class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate_as(Scalar const& T, Scalar const& alpha,
                                        Limit const& limit) const {
    if constexpr (form == general) {
      return rate(T, alpha, limit);
    } else {
      Scalar const zero(0.0), one(1.0);
      Base<Scalar> const left(one - alpha);
      auto const started = alpha >= zero;
      Scalar grown = select(started, alpha, zero);
      auto const r2 = rate_term(k2, T, n, left, limit);
      Scalar const slope = select(started, r2.value, zero);
      // Rate constants that `limit` slows one by one do not stay in proportion.
      if constexpr (form == one_energy && Limit::one_factor) {
        grown += Scalar(k1.k_ref / k2.k_ref);
        return limit.apply(
            Partial<Scalar>{r2.value * grown, r2.dT * grown, r2.dalpha * grown + slope});
      } else {
        auto const r1 = rate_term(k1, T, n, left, limit);
        return limited_once(Partial<Scalar>{r1.value + r2.value * grown, r1.dT + r2.dT * grown,
                                            r1.dalpha + r2.dalpha * grown + slope},
                            limit);
      }
    }
  }

  bool operator==(KamalSourour const&) const = default;
};

}  // namespace cure::kinetics
