#pragma once
/// k alpha^m (1-alpha)^n (truncated Sestak-Berggren, Thermochim. Acta 3, 1, 1971); needs an initial
/// degree of cure to start.

#include <tuple>

#include "cure/kinetics/law_constant.hpp"
#include "cure/kinetics/rate_term.hpp"

namespace cure::kinetics {

template <class Parameter>
struct Autocatalytic {
  Arrhenius<Parameter> k;
  Parameter m{1.0};  ///< exponent of alpha [-]
  Parameter n{1.0};  ///< exponent of 1 - alpha [-]

  static constexpr char const* name = "autocatalytic";
  static constexpr bool needs_initial_cure = true;
  static constexpr auto constants() {
    return std::tuple{rate_constant(&Autocatalytic::k, "k", -1.0, 2.0),
                      exponent_of_alpha(&Autocatalytic::m, "m"), order(&Autocatalytic::n, "n")};
  }

  template <class Scalar, class Limit>
  [[nodiscard]] Partial<Scalar> rate(Scalar const& T, Scalar const& alpha,
                                     Limit const& limit) const {
    Base<Scalar> const grown(alpha), left(Scalar(1.0) - alpha);
    return limited_once(rate_term(k, T, m, grown, n, left, limit), limit);
  }

  bool operator==(Autocatalytic const&) const = default;
};

}  // namespace cure::kinetics
