#pragma once
/// Watches the accepted steps of eight walls: the hottest resin, and the steps in which a criterion
/// turns, of which the job's listener is told.

#include <cstddef>

#include "cure/ensemble/lane_state.hpp"

namespace cure::ensemble {

template <std::size_t Bytes, LawKind law, DiffusionKind diffusion>
class LaneWatch : public LaneState<Bytes> {
 protected:
  using Lanes = LaneState<Bytes>;
  using Lanes::Lanes;
  using Lanes::shape_, Lanes::n_, Lanes::m_, Lanes::first_, Lanes::job_, Lanes::constants_,
      Lanes::was_releasable_, Lanes::T_, Lanes::a_, Lanes::f_, Lanes::flux_, Lanes::T_old_,
      Lanes::flux_old_, Lanes::a_old_, Lanes::f_old_, Lanes::inverse_C_, Lanes::scratch_, Lanes::t_;
  using typename Lanes::D, typename Lanes::F;

  /// Hottest resin, and the criteria's signs at the ends of the accepted steps.
  CURE_INLINE_ALL void watch(unsigned accepted, D const& t_old) {
    PackedRate<Bytes, law, diffusion> const rate(constants_);
    F first(-1.0), last(2.0);
    D hot = T_[first_];
    auto turns = D(0.0) > D(1.0);
    for (std::size_t j = 0; j < m_; ++j) {
      F const a = convert<float>(a_[j]);
      first = max(first, a);
      last = min(last, a);
      hot = max(hot, T_[first_ + j]);
      turns = turns | ((flux_old_[first_ + j] > D(0.0)) & (flux_[first_ + j] < D(0.0)));
    }
    auto const gelled_any = first >= rate.alpha_gel(), gelled_all = last >= rate.alpha_gel();
    auto unworkable = F(0.0) > F(1.0), releasable = unworkable;
    if (watching(worked_out)) {
      F progress(0.0);
      for (std::size_t j = 0; j < m_; ++j) {
        progress = max(
            progress, rate.working_progress(convert<float>(T_[first_ + j]), convert<float>(a_[j])));
      }
      unworkable = progress >= F(1.0);
    }
    auto const cured = last >= rate.alpha_min();
    if (any(cured)) {
      F distance(1.0);
      for (std::size_t j = 0; j < m_; ++j) {
        distance = min(
            distance, rate.release_distance(convert<float>(T_[first_ + j]), convert<float>(a_[j])));
      }
      releasable = distance >= F(0.0);
    }
    D const h = t_ - t_old;
    take_peaks(accepted, t_old, h, any(turns), hot);
    for (std::size_t k = 0; k < lanes; ++k) {
      if ((accepted >> k & 1u) == 0) continue;
      auto& job = *job_[k];
      unsigned now = 0;
      if (unworkable.lane(k)) now |= worked_out;
      if (gelled_any.lane(k)) now |= gelled_first;
      if (gelled_all.lane(k)) now |= gelled_last;
      now &= ~job.happened;
      job.happened |= now;
      if (releasable.lane(k) != was_releasable_[k]) {
        was_releasable_[k] = !was_releasable_[k];
        now |= was_releasable_[k] ? became_releasable : no_longer_releasable;
      }
      if (now != 0 && job.event != nullptr) report(k, now, t_old.lane(k));
    }
  }

  /// Hottest resin at the ends of the steps and, where some cell turned from warming to cooling,
  /// at a quarter, half and three quarters of them by cubic Hermite interpolation.
  void take_peaks(unsigned accepted, D const& t_old, D const& h, bool inside, D const& at_end) {
    D hot[4] = {at_end, at_end, at_end, at_end};
    if (inside) hot[0] = hot[1] = hot[2] = T_old_[first_];
    for (std::size_t j = 0; j < m_ && inside; ++j) {
      D const T0 = T_old_[first_ + j], T1 = T_[first_ + j];
      D const by_C = h * inverse_C_[j];
      D const f0 = flux_old_[first_ + j] * by_C, f1 = flux_[first_ + j] * by_C;
      hot[0] = max(hot[0], D(27.0 / 32.0) * T0 + D(5.0 / 32.0) * T1 + D(9.0 / 64.0) * f0 -
                               D(3.0 / 64.0) * f1);
      hot[1] = max(hot[1], D(0.5) * (T0 + T1) + D(0.125) * (f0 - f1));
      hot[2] = max(hot[2], D(5.0 / 32.0) * T0 + D(27.0 / 32.0) * T1 + D(3.0 / 64.0) * f0 -
                               D(9.0 / 64.0) * f1);
    }
    for (std::size_t k = 0; k < lanes; ++k) {
      if ((accepted >> k & 1u) == 0) continue;
      auto& job = *job_[k];
      for (std::size_t q = inside ? 0 : 3; q < 4; ++q) {
        if (!(hot[q].lane(k) > job.peak_T)) continue;
        job.peak_T = hot[q].lane(k);
        job.peak_time = t_old.lane(k) + h.lane(k) * 0.25 * static_cast<double>(q + 1);
      }
    }
  }

  [[nodiscard]] bool watching(unsigned what) const {
    for (auto const* job : job_) {
      if (job != nullptr && (job->happened & what) == 0) return true;
    }
    return false;
  }

  void report(std::size_t k, unsigned now, double t_old) {
    StepView v;
    v.t0 = t_old;
    v.t1 = t_.lane(k);
    v.happened = now;
    v.cells = m_;
    double* at = scratch_;
    auto const gather = [&at, this, k](auto const& value) {
      double const* const array = at;
      for (std::size_t j = 0; j < m_; ++j) *at++ = value(j).lane(k);
      return array;
    };
    v.T0 = gather([this](std::size_t j) { return T_old_[first_ + j]; });
    v.T1 = gather([this](std::size_t j) { return T_[first_ + j]; });
    v.dT0 = gather([this](std::size_t j) { return flux_old_[first_ + j] * inverse_C_[j]; });
    v.dT1 = gather([this](std::size_t j) { return flux_[first_ + j] * inverse_C_[j]; });
    v.a0 = gather([this](std::size_t j) { return a_old_[j]; });
    v.a1 = gather([this](std::size_t j) { return a_[j]; });
    v.da0 = gather([this](std::size_t j) { return f_old_[j]; });
    v.da1 = gather([this](std::size_t j) { return f_[j]; });
    job_[k]->event(job_[k]->context, v);
  }
};

}  // namespace cure::ensemble
