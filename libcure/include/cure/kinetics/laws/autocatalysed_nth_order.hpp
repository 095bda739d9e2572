#pragma once
/// Reaction of order n that its product catalyses, k (1-alpha)^n (1 + k_cat alpha): the n-th order
/// law with one more constant, which starts from nothing, unlike alpha^m (1-alpha)^n. An empirical
/// form of thermal analysis (S. Vyazovkin, A.K. Burnham, L. Favergeon, N. Koga, E. Moukhina, L.A.
/// Perez-Maqueda, N. Sbirrazzuoli, ICTAC Kinetics Committee recommendations for analysis of
/// multi-step kinetics, Thermochim. Acta 689, 178597, 2020; from memory, text not read). With E the
/// same for both steps and m = 1 it is what KamalSourour is for k2 = k_cat k1.

#include <tuple>

#include "cure/kinetics/law_constant.hpp"
#include "cure/kinetics/rate_term.hpp"

namespace cure::kinetics {

template <class Parameter>
struct AutocatalysedNthOrder {
  Arrhenius<Parameter> k;
  Parameter n{1.0};      ///< order [-]
  Parameter k_cat{0.0};  ///< how much faster the product makes the reaction, at alpha = 1 [-]

  static constexpr char const* name = "autocatalysed-nth-order";
  static constexpr auto constants() {
    return std::tuple{rate_constant(&AutocatalysedNthOrder::k, "k", -4.0, 0.5),
                      order(&AutocatalysedNthOrder::n, "n"),
                      plain_constant(&AutocatalysedNthOrder::k_cat, "k_cat",
                                     {.low = 0.0, .high = 1e6}, {1e-2, 1e4, 1.0, 100.0})
                          .as_logarithm()};
  }

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    Scalar const zero(0.0), one(1.0);
    Base<Scalar> const left(one - alpha);
    auto const started = alpha >= zero;
    Scalar const faster = one + k_cat * select(started, alpha, zero);
    auto const r = rate_term(k, T, n, left, limit);
    Scalar const slope = select(started, k_cat * r.value, zero);
    return limited_once(Partial<Scalar>{r.value * faster, r.dT * faster, r.dalpha * faster + slope},
                        limit);
  }

  bool operator==(AutocatalysedNthOrder const&) const = default;
};

}  // namespace cure::kinetics
