#pragma once
/// Rates of many cells on packs of double-precision numbers, one lane a cell: the formulas of
/// rate_law.hpp and diffusion.hpp, in code compiled once for each set of vector instructions.
/// Nothing here uses the standard library's own functions, so that code compiled for a newer
/// machine cannot end up, through the linker, in the hands of an older one.

#include <cstddef>

#include "cure/kinetics/diffusion.hpp"
#include "cure/kinetics/rate_law.hpp"
#include "cure/numerics/pack.hpp"

namespace cure::kinetics {

/// A rate law with its diffusion control, without variants; only the two that are named count.
struct PlainReaction {
  /// first_power is KamalSourour with m = 1; one_energy has equal activation energies too.
  enum class Law { nth_order, autocatalytic, kamal_sourour, first_power, one_energy };
  enum class Diffusion { none, chern_poehlein, rabinowitch };
  Law law = Law::nth_order;
  Diffusion diffusion = Diffusion::none;
  double share = 1.0;  ///< of this reaction's rate in the sum [-]
  NthOrder<double> nth_order;
  Autocatalytic<double> autocatalytic;
  KamalSourour<double> kamal_sourour;
  ChernPoehlein<double> chern_poehlein;
  Rabinowitch<double> rabinowitch;
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

template <std::size_t Bytes, PlainReaction::Law law, class Limit>
Partial<RatePack<Bytes>> packed_rate(PlainReaction const& r, RatePack<Bytes> const& T,
                                     RatePack<Bytes> const& alpha, Limit const& limit) {
  using Law = PlainReaction::Law;
  if constexpr (law == Law::nth_order) return r.nth_order.rate(T, alpha, limit);
  if constexpr (law == Law::autocatalytic) return r.autocatalytic.rate(T, alpha, limit);
  if constexpr (law == Law::kamal_sourour) return r.kamal_sourour.rate(T, alpha, limit);
  if constexpr (law == Law::first_power || law == Law::one_energy) {
    constexpr bool one_energy = law == Law::one_energy && Limit::one_factor;
    return first_power_rate<one_energy>(r.kamal_sourour, T, alpha, limit);
  }
}

template <std::size_t Bytes, PlainReaction::Law law, PlainReaction::Diffusion diffusion>
Partial<RatePack<Bytes>> packed_rate(PlainReaction const& r, RatePack<Bytes> const& T,
                                     RatePack<Bytes> const& alpha) {
  using Diffusion = PlainReaction::Diffusion;
  if constexpr (diffusion == Diffusion::none) {
    return packed_rate<Bytes, law>(r, T, alpha, ChemicalControl::Point{});
  } else if constexpr (diffusion == Diffusion::chern_poehlein) {
    return packed_rate<Bytes, law>(r, T, alpha, r.chern_poehlein.at(T, alpha));
  } else {
    return packed_rate<Bytes, law>(r, T, alpha, r.rabinowitch.at(T, alpha));
  }
}

/// One reaction at all cells, added to what earlier ones gave.
template <std::size_t Bytes, PlainReaction::Law law, PlainReaction::Diffusion diffusion,
          bool derivatives>
__attribute__((flatten)) void add_rates(PlainReaction const& r, bool first, RateArrays const& a) {
  using P = RatePack<Bytes>;
  P const share(r.share);
  auto const put = [&](double* out, P const& x) {
    P const own = share * x;
    (first ? own : P::load(out) + own).store(out);
  };
  auto const one_pack = [&](double const* T, double const* alpha, double* value, double* dT,
                            double* dalpha) {
    auto const rate = packed_rate<Bytes, law, diffusion>(r, P::load(T), P::load(alpha));
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

template <std::size_t Bytes, PlainReaction::Law law, PlainReaction::Diffusion diffusion>
void add_rates(PlainReaction const& r, bool first, RateArrays const& a) {
  if (a.dT != nullptr) return add_rates<Bytes, law, diffusion, true>(r, first, a);
  return add_rates<Bytes, law, diffusion, false>(r, first, a);
}

template <std::size_t Bytes, PlainReaction::Law law>
void add_rates(PlainReaction const& r, bool first, RateArrays const& a) {
  using Diffusion = PlainReaction::Diffusion;
  switch (r.diffusion) {
    case Diffusion::none: return add_rates<Bytes, law, Diffusion::none>(r, first, a);
    case Diffusion::chern_poehlein:
      return add_rates<Bytes, law, Diffusion::chern_poehlein>(r, first, a);
    case Diffusion::rabinowitch: return add_rates<Bytes, law, Diffusion::rabinowitch>(r, first, a);
  }
}

/// See RatesOfCells; for registers of `Bytes`.
template <std::size_t Bytes>
void rates_of_cells(PlainReaction const* reactions, std::size_t count, RateArrays const& arrays) {
  using Law = PlainReaction::Law;
  for (std::size_t i = 0; i < count; ++i) {
    auto const& r = reactions[i];
    bool const first = i == 0;
    switch (r.law) {
      case Law::nth_order: add_rates<Bytes, Law::nth_order>(r, first, arrays); break;
      case Law::autocatalytic: add_rates<Bytes, Law::autocatalytic>(r, first, arrays); break;
      case Law::kamal_sourour: add_rates<Bytes, Law::kamal_sourour>(r, first, arrays); break;
      case Law::first_power: add_rates<Bytes, Law::first_power>(r, first, arrays); break;
      case Law::one_energy: add_rates<Bytes, Law::one_energy>(r, first, arrays); break;
    }
  }
}

}  // namespace cure::kinetics
