#pragma once
/// Rates of many cells on packs of double-precision numbers, one lane a cell: the formulas of
/// the rate laws and of diffusion.hpp, in code compiled once for each set of vector instructions.
/// Nothing here uses the standard library's own functions, so that code compiled for a newer
/// machine cannot end up, through the linker, in the hands of an older one.

#include <cstddef>
#include <utility>
#include <variant>

#include "cure/kinetics/diffusion.hpp"
#include "cure/kinetics/rate_law.hpp"
#include "cure/numerics/pack.hpp"

namespace cure::kinetics {

namespace detail {

template <class Entry>
struct Held {
  Entry value{};
};

/// One of each entry of a list, without a variant's functions.
template <class List>
struct EachOf;
template <class... Entry>
struct EachOf<std::variant<Entry...>> : Held<Entry>... {};

}  // namespace detail

/// A rate law with its diffusion control; only the two whose numbers are given count.
struct PlainReaction {
  std::size_t law = 0;        ///< its number in RateLaw
  std::size_t form = 0;       ///< of its formula
  std::size_t diffusion = 0;  ///< its number in DiffusionControl
  double share = 1.0;         ///< of this reaction's rate in the sum [-]
  detail::EachOf<RateLaw<double>> laws;
  detail::EachOf<DiffusionControl<double>> controls;
};

/// Where the cells are and where their rates go.
struct RateArrays {
  std::size_t cells = 0;
  double const* T = nullptr;      ///< [K]
  double const* alpha = nullptr;  ///< [-]
  double* value = nullptr;        ///< [1/s]
  double* dT = nullptr;           ///< [1/(s K)]; null when no derivatives are wanted
  double* dalpha = nullptr;       ///< [1/s]; null with it
};

/// Rates of all cells: the sum of `count` reactions, each with its share.
using RatesOfCells = void (*)(PlainReaction const* reactions, std::size_t count,
                              RateArrays const& arrays);

inline constexpr std::size_t rate_lanes = 8;

template <std::size_t Bytes>
using RatePack = Pack<double, rate_lanes, Bytes>;

/// Which formulas a loop is compiled for.
template <std::size_t law_, std::size_t form_, std::size_t diffusion_>
struct Formulas {
  using Law = Listed<law_, RateLaw<double>>;
  using Control = Listed<diffusion_, DiffusionControl<double>>;
  static constexpr std::size_t form = form_;

  template <class P>
  static Partial<P> rate(PlainReaction const& r, P const& T, P const& alpha) {
    auto const& law = static_cast<detail::Held<Law> const&>(r.laws).value;
    auto const limit = static_cast<detail::Held<Control> const&>(r.controls).value.at(T, alpha);
    if constexpr (form_count<Law>() > 1) {
      return law.template rate_as<form>(T, alpha, limit);
    } else {
      return law.rate(T, alpha, limit);
    }
  }
};

/// One reaction at all cells, added to what earlier ones gave.
template <std::size_t Bytes, class Formulas, bool derivatives>
__attribute__((flatten)) void add_rates(PlainReaction const& r, bool first, RateArrays const& a) {
  using P = RatePack<Bytes>;
  P const share(r.share);
  auto const put = [&](double* out, P const& x) {
    P const own = share * x;
    (first ? own : P::load(out) + own).store(out);
  };
  auto const one_pack = [&](double const* T, double const* alpha, double* value, double* dT,
                            double* dalpha) {
    auto const rate = Formulas::rate(r, P::load(T), P::load(alpha));
    put(value, rate.value);
    if constexpr (derivatives) {
      put(dT, rate.dT);
      put(dalpha, rate.dalpha);
    }
  };
  std::size_t j = 0;
  for (; j + rate_lanes <= a.cells; j += rate_lanes) {
    one_pack(a.T + j, a.alpha + j, a.value + j, derivatives ? a.dT + j : nullptr,
             derivatives ? a.dalpha + j : nullptr);
  }
  if (j == a.cells) return;
  // The rest, the last cell filling the lanes that are left over.
  double in[2][rate_lanes], out[3][rate_lanes];
  auto const left = a.cells - j;
  for (std::size_t k = 0; k < rate_lanes; ++k) {
    auto const cell = k < left ? j + k : a.cells - 1;
    in[0][k] = a.T[cell];
    in[1][k] = a.alpha[cell];
    out[0][k] = first ? 0.0 : a.value[cell];
    out[1][k] = first || !derivatives ? 0.0 : a.dT[cell];
    out[2][k] = first || !derivatives ? 0.0 : a.dalpha[cell];
  }
  one_pack(in[0], in[1], out[0], out[1], out[2]);
  for (std::size_t k = 0; k < left; ++k) {
    a.value[j + k] = out[0][k];
    if constexpr (derivatives) {
      a.dT[j + k] = out[1][k];
      a.dalpha[j + k] = out[2][k];
    }
  }
}

/// The same by numbers that are known only at run time.
template <std::size_t Bytes>
void add_rates_of(PlainReaction const& r, bool first, RateArrays const& a) {
  auto const run = [&]<class F>() {
    if (a.dT != nullptr) return add_rates<Bytes, F, true>(r, first, a);
    return add_rates<Bytes, F, false>(r, first, a);
  };
  each_listed<RateLaw<double>>([&]<std::size_t law>() {
    using Law = Listed<law, RateLaw<double>>;
    if constexpr (serves_packs<Law>()) {
      if (r.law != law) return;
      each_listed<DiffusionControl<double>>([&]<std::size_t diffusion>() {
        if (r.diffusion != diffusion) return;
        [&]<std::size_t... form>(std::index_sequence<form...>) {
          ((r.form == form ? run.template operator()<Formulas<law, form, diffusion>>() : void()),
           ...);
        }
        (std::make_index_sequence<form_count<Law>()>{});
      });
    }
  });
}

/// See RatesOfCells; for registers of `Bytes`.
template <std::size_t Bytes>
void rates_of_cells(PlainReaction const* reactions, std::size_t count, RateArrays const& arrays) {
  for (std::size_t i = 0; i < count; ++i) add_rates_of<Bytes>(reactions[i], i == 0, arrays);
}

}  // namespace cure::kinetics
