#pragma once
/// (k1 + k2 alpha)(1-alpha)(B-alpha) for alpha <= alpha_switch, k3 (1-alpha) above
/// (W.I. Lee, A.C. Loos, G.S. Springer, J. Compos. Mater. 16, 510, 1982). The rate jumps at the
/// switch, as published, and k2 may be negative. With a width above 0 one branch passes into the
/// other by a logistic curve of alpha instead.

#include <tuple>

#include "cure/kinetics/law_constant.hpp"
#include "cure/kinetics/rate_term.hpp"

namespace cure::kinetics {

template <class Parameter>
struct TwoBranch {
  Arrhenius<Parameter> k1, k2, k3;
  Parameter B{1.0};             ///< [-]
  Parameter alpha_switch{0.3};  ///< [-]
  double width = 0.0;           ///< of the passage between the branches; 0: a jump [-]

  static constexpr char const* name = "two-branch";
  static constexpr bool serves_packs = false;
  static constexpr auto constants() {
    return std::tuple{
        rate_constant(&TwoBranch::k1, "k1", -6.0, -0.5),
        rate_constant(&TwoBranch::k2, "k2", -0.5, 2.5).as_ratio_to("k1", {-5.0, 500.0, -0.5, 8.0}),
        rate_constant(&TwoBranch::k3, "k3", -1.0, 1.0),
        plain_constant(&TwoBranch::B, "B", {.low = 0.0, .high = 1.0}, {0.05, 1.0, 0.4, 0.98}),
        plain_constant(&TwoBranch::alpha_switch, "alpha_switch", {.low = 0.0, .high = 1.0},
                       {0.02, 0.95, 0.2, 0.6})
            .shown_as("α_switch")};
  }

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    Scalar const left = Scalar(1.0) - alpha;
    if (!(left > Scalar(0.0))) return {};
    if (!(width > 0.0)) {
      return alpha > Scalar(alpha_switch) ? late(T, left, limit) : early(T, alpha, left, limit);
    }
    Scalar const x = (alpha - Scalar(alpha_switch)) * Scalar(1.0 / width);
    Scalar const s = Scalar(1.0) / (Scalar(1.0) + exp(-x));
    auto const a = early(T, alpha, left, limit), b = late(T, left, limit);
    Scalar const jump = b.value - a.value;
    return {
        a.value + s * jump, a.dT + s * (b.dT - a.dT),
        a.dalpha + s * (b.dalpha - a.dalpha) + s * (Scalar(1.0) - s) * Scalar(1.0 / width) * jump};
  }

  bool operator==(TwoBranch const&) const = default;

 private:
  template <class Scalar, class Limit>
  Partial<Scalar> early(Scalar const& T, Scalar const& alpha, Scalar const& left,
                        Limit const& limit) const {
    auto const c1 = limit.apply(k1.at(T));
    auto const c2 = limit.apply(k2.at(T));
    Scalar const sum = c1.value + c2.value * alpha;
    Scalar const shape = left * (B - alpha);
    return {sum * shape, (c1.dT + c2.dT * alpha) * shape,
            (c1.dalpha + c2.dalpha * alpha + c2.value) * shape - sum * (left + (B - alpha))};
  }
  template <class Scalar, class Limit>
  Partial<Scalar> late(Scalar const& T, Scalar const& left, Limit const& limit) const {
    auto const c3 = limit.apply(k3.at(T));
    return {c3.value * left, c3.dT * left, c3.dalpha * left - c3.value};
  }
};

}  // namespace cure::kinetics
