#pragma once
/// The rate laws and measures of the resin model on packs of single-precision numbers, one lane a
/// case. Single precision costs some 2e-6 of a rate, far below the tolerance of an ensemble.

#include <cstddef>

#include "cure/ensemble/lane_job.hpp"
#include "cure/kinetics/diffusion.hpp"
#include "cure/kinetics/rate_law.hpp"
#include "cure/kinetics/viscosity.hpp"
#include "cure/numerics/pack.hpp"
#include "cure/process/measures.hpp"

namespace cure::ensemble {

template <std::size_t Bytes>
using Floats = Pack<float, lanes, Bytes>;

/// Constants of all lanes.
template <std::size_t Bytes>
struct PackedConstants {
  Floats<Bytes> value[RateConstants::count];

  void set(std::size_t lane, RateConstants const& c) {
    for (std::size_t i = 0; i < RateConstants::count; ++i) value[i].set(lane, c.value[i]);
  }
};

template <std::size_t Bytes, LawKind law, DiffusionKind diffusion>
class LaneResin {
 public:
  using F = Floats<Bytes>;
  explicit LaneResin(PackedConstants<Bytes> const& c) : c_(c.value) {}

  [[nodiscard]] Partial<F> at(F const& T, F const& alpha) const {
    using R = RateConstants;
    if constexpr (diffusion == DiffusionKind::chern_poehlein) {
      kinetics::ChernPoehlein<F> const d{c_[R::diffusion_1], c_[R::diffusion_2],
                                         c_[R::diffusion_3]};
      return limited(T, alpha, d.at(T, alpha));
    } else if constexpr (diffusion == DiffusionKind::rabinowitch) {
      kinetics::Rabinowitch<F> const d{c_[R::diffusion_1], c_[R::diffusion_2], c_[R::diffusion_3],
                                       glass_transition()};
      return limited(T, alpha, d.at(T, alpha));
    } else {
      return limited(T, alpha, kinetics::ChemicalControl::Point{});
    }
  }

  /// Progress to the working limit, as Resin::working_progress.
  [[nodiscard]] F working_progress(F const& T, F const& alpha) const {
    using R = RateConstants;
    return progress(T, alpha, c_[R::eta_A], c_[R::eta_B]);
  }

  /// No point that is warmer and less cured is farther on than this. (Exponents that fall below
  /// zero could make the viscosity fall with cure.)
  [[nodiscard]] F working_progress_at_most(F const& T, F const& alpha) const {
    using R = RateConstants;
    return progress(T, alpha, max(c_[R::eta_A], F(0.0)), max(c_[R::eta_B], F(0.0)));
  }

  [[nodiscard]] F release_distance(F const& T, F const& alpha) const {
    using R = RateConstants;
    return process::release_distance(T, alpha, glass_transition().at(alpha).value, c_[R::alpha_min],
                                     c_[R::Tg_margin]);
  }

  [[nodiscard]] F alpha_min() const { return c_[RateConstants::alpha_min]; }
  [[nodiscard]] F alpha_gel() const { return c_[RateConstants::alpha_gel]; }

 private:
  [[nodiscard]] F progress(F const& T, F const& alpha, F const& A, F const& B) const {
    using R = RateConstants;
    kinetics::CastroMacosko<F> const eta{c_[R::eta0], c_[R::eta_E], A, B, c_[R::alpha_gel]};
    F const& by_alpha = c_[R::working_alpha];
    auto const has_limit = by_alpha > F(0.0);
    return select(has_limit, alpha / select(has_limit, by_alpha, F(1.0)),
                  eta.progress(T, alpha, c_[R::log_eta_limit]));
  }

  [[nodiscard]] kinetics::DiBenedetto<F> glass_transition() const {
    using R = RateConstants;
    return {c_[R::Tg0], c_[R::Tg_inf], c_[R::lambda]};
  }

  template <class Limit>
  [[nodiscard]] Partial<F> limited(F const& T, F const& alpha, Limit const& limit) const {
    using R = RateConstants;
    kinetics::Arrhenius<F> const k1{c_[R::k1], c_[R::E1], c_[R::inverse_T_ref]};
    if constexpr (law == LawKind::nth_order) {
      return kinetics::NthOrder<F>{k1, c_[R::n]}.rate(T, alpha, limit);
    } else if constexpr (law == LawKind::autocatalytic) {
      return kinetics::Autocatalytic<F>{k1, c_[R::m], c_[R::n]}.rate(T, alpha, limit);
    } else {
      kinetics::Arrhenius<F> const k2{c_[R::k2], c_[R::E2], c_[R::inverse_T_ref]};
      return kinetics::KamalSourour<F>{k1, k2, c_[R::m], c_[R::n]}.rate(T, alpha, limit);
    }
  }

  F const* c_;
};

}  // namespace cure::ensemble
