#pragma once
/// The cure scheme of a model file: rate law, diffusion control, inhibitor, parallel branches. The
/// constants of each are those that it lists itself (kinetics/law_constant.hpp).

#include <array>
#include <cmath>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/io/quantity.hpp"
#include "cure/kinetics/cure_rate.hpp"
#include "cure/kinetics/own_rate.hpp"

namespace cure::io::detail {

inline kinetics::Arrhenius<double> read_arrhenius(Reader& parent, std::string const& key) {
  auto k = parent.object(key);
  double const E = quantity(k, "E", units::Kind::molar_energy, {.low = 0.0, .high = 1e6});
  kinetics::Arrhenius<double> law;
  if (k.has("k_ref")) {
    law = kinetics::Arrhenius<double>::centred(
        quantity(k, "k_ref", units::Kind::rate, any()), E,
        quantity(k, "T_ref", units::Kind::temperature, temperature()));
  } else {
    law = kinetics::Arrhenius<double>::from_A(quantity(k, "A", units::Kind::rate, any()), E);
  }
  k.finish();
  return law;
}

/// The constants of a rate law, or of another part of a scheme, by its own list of them.
template <class Law>
Law read_constants(Reader& parent) {
  Law law;
  kinetics::each_constant<Law>([&]<class Member>(kinetics::LawConstant<Member> const& c) {
    if (c.may_be_left_out && !parent.has(c.key)) return;
    if constexpr (kinetics::is_rate_constant<Member>) {
      law.*c.member = read_arrhenius(parent, c.key);
    } else {
      law.*c.member = quantity(parent, c.key, c.kind, c.range);
    }
  });
  return law;
}

/// That of a list of laws or of forms whose number was read.
template <class List>
List read_listed(Reader& parent, std::size_t number) {
  List out;
  kinetics::each_listed<List>([&]<std::size_t i>() {
    if (i == number) out = read_constants<kinetics::Listed<i, List>>(parent);
  });
  return out;
}

/// Words of a list, and of schemes that stand beside it.
template <class List, class... More>
constexpr auto names_of() {
  std::array<char const*, std::variant_size_v<List> + sizeof...(More)> names{};
  kinetics::each_listed<List>([&]<std::size_t i>() { names[i] = kinetics::Listed<i, List>::name; });
  [[maybe_unused]] auto at = std::variant_size_v<List>;
  ((names[at++] = More::name), ...);
  return names;
}

using Laws = kinetics::RateLaw<double>;
using Controls = kinetics::DiffusionControl<double>;
using EpoxyAmine = kinetics::EpoxyAmine<double>;
using Parallel = kinetics::ParallelReactions<double>;

/// A table of measured rates in place of a formula.
struct Tabulated {
  static constexpr char const* name = "tabulated";
  std::vector<double> T = {}, alpha = {}, rate = {};
};

inline constexpr Field<Tabulated> tabulated_fields[] = {
    ModelFields<Tabulated>::quantities(
        "temperature", units::Kind::temperature, temperature(),
        [](Tabulated& x, std::vector<double> v) { x.T = std::move(v); })
        .means("Rising. A job that leaves them stops with an error.")
        .elements(2, 200),
    ModelFields<Tabulated>::quantities(
        "alpha", units::Kind::number, fraction(),
        [](Tabulated& x, std::vector<double> v) { x.alpha = std::move(v); })
        .means("Degrees of cure, rising from 0.")
        .elements(2, 500),
    ModelFields<Tabulated>::quantities(
        "rate", units::Kind::rate, {.low = 0.0},
        [](Tabulated& x, std::vector<double> v) { x.rate = std::move(v); })
        .means("All degrees of cure at the first temperature, then all at the next, and so on; 0 "
               "at the last degree of cure, where cure ends.")
        .elements(4, 100000),
    ModelFields<Tabulated>::basis(),
    ModelFields<Tabulated>::source(),
    ModelFields<Tabulated>::where(),
    ModelFields<Tabulated>::note()};

inline constexpr Object<Tabulated> tabulated_table{
    tabulated_fields,
    "Rates as measured, with what slows them down (so the form of diffusion is none): straight in "
    "alpha, the logarithm straight in 1/T. Samples of such a resin are simulated one by one."};

/// Laws of a single reaction; what "rate" may be; and what slows it down.
inline constexpr auto law_names = names_of<Laws>();
inline constexpr auto scheme_names = names_of<Laws, EpoxyAmine, Parallel, Tabulated>();
inline constexpr auto diffusion_names = names_of<Controls>();

inline Controls read_diffusion(Reader& resin,
                               kinetics::DiBenedetto<double> const& glass_transition) {
  auto d = resin.object("diffusion");
  auto out = read_listed<Controls>(d, d.choice("form", Words(diffusion_names)));
  d.finish();
  if (auto* r = std::get_if<kinetics::Rabinowitch<double>>(&out)) {
    r->glass_transition = glass_transition;
  }
  return out;
}

inline Parallel read_parallel(Reader& rate, Controls const& diffusion) {
  Parallel scheme;
  double total = 0.0;
  for (auto& branch : rate.objects("branches")) {
    double const share =
        quantity(branch, "share", units::Kind::number, {.low = 0.0, .high = 1.0, .above = true});
    total += share;
    auto const law = branch.choice("law", Words(law_names));
    scheme.branches.push_back({share, {read_listed<Laws>(branch, law), diffusion}});
    branch.finish();
  }
  auto const n = scheme.branches.size();
  if (n < 2 || n > kinetics::max_states) {
    rate.fail("branches", std::to_string(n) + " branches",
              "2 to " + std::to_string(kinetics::max_states));
  }
  if (std::abs(total - 1.0) > 1e-9) {
    rate.fail("branches", "shares that add up to " + shown(total), "shares that add up to 1");
  }
  return scheme;
}

/// A table is what was measured, with all that slows the cure down in it.
inline kinetics::OwnRate<double> read_tabulated(Reader& resin, Reader& rate,
                                                Controls const& diffusion) {
  if (resin.has("inhibitor")) {
    resin.fail("inhibitor", "given", "none beside a tabulated rate, which has it in it");
  }
  if (!std::holds_alternative<kinetics::ChemicalControl>(diffusion)) {
    resin.fail("diffusion", "another form", "the form \"none\" beside a tabulated rate");
  }
  Tabulated x;
  read_object(tabulated_table, rate, x);
  try {
    return kinetics::tabulated_rate(std::move(x.T), std::move(x.alpha), std::move(x.rate));
  } catch (InputError const& e) {
    rate.fail(e.field() == "T" ? "temperature" : e.field(), e.value(), e.allowed());
  }
}

/// The whole cure scheme of a resin document.
inline kinetics::CureRate<double> read_cure_rate(
    Reader& resin, kinetics::DiBenedetto<double> const& glass_transition) {
  auto diffusion = read_diffusion(resin, glass_transition);
  auto rate = resin.object("rate");
  auto const law = rate.choice("law", Words(scheme_names));
  kinetics::CureRate<double> out;
  if (scheme_names[law] == EpoxyAmine::name) {
    auto scheme = read_constants<EpoxyAmine>(rate);
    scheme.diffusion = std::move(diffusion);
    out = std::move(scheme);
  } else if (scheme_names[law] == Parallel::name) {
    out = read_parallel(rate, diffusion);
  } else if (scheme_names[law] == Tabulated::name) {
    out = read_tabulated(resin, rate, diffusion);
  } else {
    kinetics::SingleReaction<double> single{read_listed<Laws>(rate, law), std::move(diffusion)};
    if (resin.has("inhibitor")) {
      auto inhibitor = resin.object("inhibitor");
      auto scheme = read_constants<kinetics::InhibitedReaction<double>>(inhibitor);
      scheme.reaction = std::move(single);
      inhibitor.finish();
      out = std::move(scheme);
    } else {
      out = std::move(single);
    }
  }
  rate.finish();
  return out;
}

}  // namespace cure::io::detail
