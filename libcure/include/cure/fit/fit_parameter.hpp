#pragma once
/// The parameters of a fit, made of what laws say of their constants (kinetics/law_constant.hpp).
/// Rate constants are in the centred Arrhenius form, with the natural logarithm of k at T_ref as
/// the parameter, so that they stay positive and nearly uncorrelated with E; one that may be
/// negative is the ratio to another one at T_ref.

#include <cmath>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/kinetics/law_constant.hpp"

namespace cure::fit {

struct FitParameter {
  std::string name{};    ///< such as ln_k
  std::string key{};     ///< for people, with its unit: k_1_s, E_kJ_mol
  std::string symbol{};  ///< for figures and text
  std::string unit{};    ///< of the value for people, as in model files
  bool log = false;      ///< it is the natural logarithm of that value
  double factor = 1.0;   ///< it is this times that value, when it is not
  /// Bounds and range of the starts; of rate constants over the one to be expected.
  double low = 0.0, high = 0.0, start_low = 0.0, start_high = 0.0;
  std::string path{};      ///< of the value in a model file
  std::string ratio_to{};  ///< name of the parameter whose rate constant it is a multiple of
  std::string recipe{};    ///< what the recipe tells, in words; empty: nothing
};

namespace detail {

inline FitParameter searched(FitParameter p, kinetics::Search const& s) {
  p.low = s.low, p.high = s.high, p.start_low = s.start_low, p.start_high = s.start_high;
  return p;
}

/// k1 has E1, k_a has E_a.
inline std::string energy_name(std::string const& rate_constant) {
  return std::string("E").append(rate_constant, 1);
}

inline char const* suffix_of(units::Kind kind) {
  switch (kind) {
    case units::Kind::rate: return "_1_s";
    case units::Kind::inverse_temperature: return "_1_K";
    case units::Kind::temperature_difference: return "_K";
    default: return "";
  }
}

inline char const* unit_of(units::Kind kind) {
  switch (kind) {
    case units::Kind::rate: return "1/s";
    case units::Kind::inverse_temperature: return "1/K";
    case units::Kind::temperature_difference: return "K";
    default: return "1";
  }
}

}  // namespace detail

/// Adds the one or two parameters that a fit has for a constant.
/// @param place of its law in a model file, such as "rate."
/// @param suffix of the name, where several have the same law
template <class Member>
void add_parameters(std::vector<FitParameter>& list, kinetics::LawConstant<Member> const& c,
                    std::string const& place, std::string const& suffix = "") {
  std::string const key = (*c.fit_name != '\0' ? c.fit_name : c.key) + suffix;
  std::string const symbol = *c.symbol != '\0' ? c.symbol : key;
  std::string const path = place + c.key;
  if constexpr (kinetics::is_rate_constant<Member>) {
    std::string const other = c.ratio_to;
    FitParameter k = other.empty() ? FitParameter{.name = "ln_" + key,
                                                  .key = key + "_1_s",
                                                  .symbol = "ln " + symbol,
                                                  .unit = "1/s",
                                                  .log = true}
                                   : FitParameter{.name = key + "_over_" + other,
                                                  .key = key + "_over_" + other,
                                                  .symbol = symbol + "/" + other,
                                                  .unit = "1",
                                                  .ratio_to = "ln_" + other};
    k.path = path + ".k_ref";
    list.push_back(detail::searched(std::move(k), c.search));
    auto const E = detail::energy_name(key);
    list.push_back(detail::searched({.name = E,
                                     .key = E + "_kJ_mol",
                                     .symbol = E,
                                     .unit = "kJ/mol",
                                     .factor = 1e3,
                                     .path = path + ".E"},
                                    c.energy));
  } else {
    FitParameter p{.name = key,
                   .key = key + detail::suffix_of(c.kind),
                   .symbol = symbol,
                   .unit = detail::unit_of(c.kind),
                   .path = path,
                   .recipe = c.recipe};
    auto s = c.search;
    if (c.by_logarithm) {
      p.name = "ln_" + key, p.symbol = "ln " + symbol, p.log = true;
      if (c.kind != units::Kind::rate) {
        s = {std::log(s.low), std::log(s.high), std::log(s.start_low), std::log(s.start_high)};
      }
    }
    list.push_back(detail::searched(std::move(p), s));
  }
}

/// Takes constants of a law from parameters in the order of add_parameters, and moves `p` past
/// them.
/// @param optional those that may be left out, or the others
template <class Law, class Scalar>
void take_constants(Law& law, Scalar const*& p, Scalar const& T_ref, bool optional = false) {
  kinetics::each_constant<Law>([&]<class Member>(kinetics::LawConstant<Member> const& c) {
    if (c.may_be_left_out != optional) return;
    Scalar first = *p++;
    if constexpr (kinetics::is_rate_constant<Member>) {
      if (*c.ratio_to == '\0') {
        first = exp(first);
      } else {
        kinetics::each_constant<Law>([&]<class Other>(kinetics::LawConstant<Other> const& o) {
          if constexpr (kinetics::is_rate_constant<Other>) {
            if (std::string_view(o.key) == c.ratio_to) first = first * (law.*o.member).k_ref;
          }
        });
      }
      law.*c.member = kinetics::Arrhenius<Scalar>::centred(first, *p++, T_ref);
    } else {
      law.*c.member = c.by_logarithm ? exp(first) : first;
    }
  });
}

template <class Law, class Scalar>
Law take_law(Scalar const*& p, Scalar const& T_ref) {
  Law law;
  take_constants(law, p, T_ref);
  return law;
}

}  // namespace cure::fit
