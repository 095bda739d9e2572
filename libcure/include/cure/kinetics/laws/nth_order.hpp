#pragma once
/// Reaction of order n, k (1-alpha)^n.

#include <tuple>

#include "cure/kinetics/law_constant.hpp"
#include "cure/kinetics/rate_term.hpp"

namespace cure::kinetics {

template <class Parameter>
struct NthOrder {
  Arrhenius<Parameter> k;
  Parameter n{1.0};  ///< order [-]

  static constexpr char const* name = "nth-order";
  static constexpr auto constants() {
    return std::tuple{rate_constant(&NthOrder::k, "k", -1.0, 2.0), order(&NthOrder::n, "n")};
  }

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    Base<Scalar> const left(Scalar(1.0) - alpha);
    return limited_once(rate_term(k, T, n, left, limit), limit);
  }

  bool operator==(NthOrder const&) const = default;
};

}  // namespace cure::kinetics
