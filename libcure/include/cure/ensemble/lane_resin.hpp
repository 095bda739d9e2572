#pragma once
/// The rate laws and measures of the resin model on packs of single-precision numbers, one lane a
/// case. Single precision costs some 2e-6 of a rate, far below the tolerance of an ensemble.

#include <algorithm>
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

/// @tparam law, diffusion numbers in kinetics::RateLaw and kinetics::DiffusionControl
/// @tparam form of the law, below packed_forms
template <std::size_t Bytes, std::size_t law, std::size_t form, std::size_t diffusion>
class LaneResin {
 public:
  using F = Floats<Bytes>;
  using Law = kinetics::Listed<law, kinetics::RateLaw<F>>;
  using Control = kinetics::Listed<diffusion, kinetics::DiffusionControl<F>>;
  explicit LaneResin(PackedConstants<Bytes> const& c) : c_(c.value) {}

  [[nodiscard]] Partial<F> at(F const& T, F const& alpha) const {
    using R = RateConstants;
    F const& inverse_T_ref = c_[R::inverse_T_ref];
    auto control = law_of_slots<Control>(c_ + R::diffusion, inverse_T_ref);
    if constexpr (requires { control.glass_transition; }) {
      control.glass_transition = glass_transition();
    }
    auto const reaction = law_of_slots<Law>(c_ + R::law, inverse_T_ref);
    if constexpr (form > 0) {
      return reaction.template rate_as<form>(T, alpha, control.at(T, alpha));
    } else {
      return reaction.rate(T, alpha, control.at(T, alpha));
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

  F const* c_;
};

}  // namespace cure::ensemble
