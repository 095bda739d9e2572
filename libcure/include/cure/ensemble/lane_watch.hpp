#pragma once
/// Watches the accepted steps of the walls: the hottest resin, and the steps in which a criterion
/// turns, of which the job's listener is told. At the nodes and at the liner's faces (see
/// process/faces.hpp).

#include <algorithm>
#include <cstddef>

#include "cure/ensemble/lane_state.hpp"
#include "cure/numerics/hermite.hpp"
#include "cure/process/faces.hpp"

namespace cure::ensemble {

template <std::size_t Bytes, std::size_t law, std::size_t form, std::size_t diffusion>
class LaneWatch : public LaneState<Bytes> {
 protected:
  using Lanes = LaneState<Bytes>;
  using Lanes::Lanes;
  using Lanes::shape_, Lanes::n_, Lanes::m_, Lanes::first_, Lanes::job_, Lanes::constants_,
      Lanes::was_releasable_, Lanes::T_, Lanes::a_, Lanes::f_, Lanes::flux_, Lanes::T_old_,
      Lanes::flux_old_, Lanes::a_old_, Lanes::f_old_, Lanes::inverse_C_, Lanes::scratch_, Lanes::t_,
      Lanes::t_old_, Lanes::base_;
  using typename Lanes::F;

  /// Hottest resin, and the criteria's signs at the ends of the accepted steps.
  CURE_INLINE_ALL void watch(unsigned accepted) {
    LaneResin<Bytes, law, form, diffusion> const rate(constants_);
    F first(-1.0), last(2.0);
    F hot = T_[first_], cold = hot;
    auto turns = F(0.0) > F(1.0);
    at_points([&](auto const& point) {
      F const T = point(T_ + first_), a = point.cure(a_);
      first = max(first, a);
      last = min(last, a);
      hot = max(hot, T);
      cold = min(cold, T);
    });
    for (std::size_t j = 0; j < m_; ++j) {
      turns = turns | ((flux_old_[first_ + j] > F(0.0)) & (flux_[first_ + j] < F(0.0)));
    }
    auto const gelled_any = first >= rate.alpha_gel(), gelled_all = last >= rate.alpha_gel();
    auto const unworkable = some_point_unworkable(rate, accepted, first, cold);
    auto const releasable = all_points_releasable(rate, accepted, first, last, hot);
    take_peaks(accepted, turns, hot);
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
        job.happened ^= became_releasable;
        now |= was_releasable_[k] ? became_releasable : no_longer_releasable;
      }
      if (now != 0 && job.event != nullptr) report(k, now);
    }
  }

  /// Lanes where some point has reached the working limit. No point is farther on than one of the
  /// highest alpha at the coldest T; only where such a point could be past the limit is each asked.
  template <class Rate>
  typename F::Mask some_point_unworkable(Rate const& rate, unsigned accepted, F const& highest,
                                         F const& cold) const {
    F const base = base_;
    auto const near = rate.working_progress_at_most(base + cold, highest) >= F(1.0);
    auto const in_question = near.bits() & accepted;
    bool ask = false;
    for (std::size_t k = 0; k < lanes; ++k) {
      ask = ask || ((in_question >> k & 1u) != 0 && (job_[k]->happened & worked_out) == 0);
    }
    if (!ask) return near;
    F progress(0.0);
    at_points([&](auto const& point) {
      progress = max(progress, rate.working_progress(base + point(T_ + first_), point.cure(a_)));
    });
    return near & (progress >= F(1.0));
  }

  /// Lanes where every point may be released. Tg grows with alpha: no point is farther from release
  /// than one of the lowest alpha at the hottest T would be, and the hottest point is no nearer
  /// than one of the highest alpha; only between the two is each point asked.
  template <class Rate>
  typename F::Mask all_points_releasable(Rate const& rate, unsigned accepted, F const& highest,
                                         F const& lowest, F const& hot) const {
    F const base = base_;
    auto const all = rate.release_distance(base + hot, lowest) >= F(0.0);
    auto const open = (!all) & (lowest >= rate.alpha_min()) &
                      (rate.release_distance(base + hot, highest) >= F(0.0));
    if ((open.bits() & accepted) == 0) return all;
    F distance(1.0);
    at_points([&](auto const& point) {
      distance = min(distance, rate.release_distance(base + point(T_ + first_), point.cure(a_)));
    });
    return all | (open & (distance >= F(0.0)));
  }

  /// Hottest resin at the ends of the steps and, where some cell turned from warming to cooling,
  /// at a quarter, half and three quarters of them by cubic Hermite interpolation.
  void take_peaks(unsigned accepted, typename F::Mask const& turns, F const& at_end) {
    bool const inside = any(turns);
    F hot[4] = {at_end, at_end, at_end, at_end};
    F h(0.0);
    for (std::size_t k = 0; k < lanes; ++k) h.set(k, Lanes::single(t_[k] - t_old_[k]));
    if (inside) inside_step(h, hot);
    for (std::size_t k = 0; k < lanes; ++k) {
      if ((accepted >> k & 1u) == 0) continue;
      auto& job = *job_[k];
      for (std::size_t q = turns.lane(k) ? 0 : 3; q < 4; ++q) {
        double const T = at(k, hot[q]);
        if (!(T > job.peak_T)) continue;
        job.peak_T = T;
        job.peak_time = t_old_[k] + (t_[k] - t_old_[k]) * 0.25 * static_cast<double>(q + 1);
      }
    }
  }

  /// Hottest resin at a quarter, half and three quarters of the steps, of lengths h [s].
  CURE_INLINE_ALL void inside_step(F const& h, F* hot) const {
    static constexpr numerics::HermiteWeights weight[] = {
        numerics::hermite_weights(0.0, 1.0, 0.25), numerics::hermite_weights(0.0, 1.0, 0.5),
        numerics::hermite_weights(0.0, 1.0, 0.75)};
    for (std::size_t q = 0; q < 3; ++q) {
      auto const& w = weight[q];
      auto const T = [&](std::size_t j) {
        auto const i = first_ + j;
        F const by_C = h * inverse_C_[j];
        return F(w.y0) * T_old_[i] + F(w.y1) * T_[i] +
               (F(w.f0) * flux_old_[i] + F(w.f1) * flux_[i]) * by_C;
      };
      hot[q] = T(0);
      for (std::size_t j = 1; j < m_; ++j) hot[q] = max(hot[q], T(j));
      for (std::size_t p = 0; process::point_count(m_) > m_ && p < m_ + 2; p += m_ + 1) {
        auto const j = process::point_cells(p, m_);
        hot[q] = max(hot[q], process::carried_on(T(j.at), T(j.behind)));
      }
    }
  }

  /// A cell's node, and a face of the liner, which find their value in an array of the resin cells.
  struct Node {
    std::size_t j;
    F operator()(F const* x) const { return x[j]; }
    F cure(F const* a) const { return a[j]; }
  };
  struct Face {
    process::PointCells j;
    F operator()(F const* x) const { return process::carried_on(x[j.at], x[j.behind]); }
    F cure(F const* a) const { return process::cure_carried_on(a[j.at], a[j.behind]); }
  };
  template <class Visit>
  CURE_INLINE_ALL void at_points(Visit const& visit) const {
    for (std::size_t j = 0; j < m_; ++j) visit(Node{j});
    if (process::point_count(m_) == m_) return;
    visit(Face{process::point_cells(0, m_)});
    visit(Face{process::point_cells(m_ + 1, m_)});
  }

  /// A lane's temperature, given from its base [K].
  [[nodiscard]] double at(std::size_t k, F const& T) const {
    return static_cast<double>(base_.lane(k)) + static_cast<double>(T.lane(k));
  }

  /// Tells the job's listener of the step.
  void report(std::size_t k, unsigned now) {
    StepView v;
    v.t0 = t_old_[k];
    v.t1 = t_[k];
    v.happened = now;
    v.cells = m_;
    double* next = scratch_;
    auto const gather = [&next, this](auto const& value) {
      double const* const array = next;
      for (std::size_t j = 0; j < m_; ++j) *next++ = value(j);
      return array;
    };
    auto const lane = [k](F const& x) { return static_cast<double>(x.lane(k)); };
    v.T0 = gather([&](std::size_t j) { return at(k, T_old_[first_ + j]); });
    v.T1 = gather([&](std::size_t j) { return at(k, T_[first_ + j]); });
    v.dT0 = gather([&](std::size_t j) { return lane(flux_old_[first_ + j] * inverse_C_[j]); });
    v.dT1 = gather([&](std::size_t j) { return lane(flux_[first_ + j] * inverse_C_[j]); });
    v.a0 = gather([&](std::size_t j) { return lane(a_old_[j]); });
    v.a1 = gather([&](std::size_t j) { return lane(a_[j]); });
    v.da0 = gather([&](std::size_t j) { return lane(f_old_[j]); });
    v.da1 = gather([&](std::size_t j) { return lane(f_[j]); });
    job_[k]->event(job_[k]->context, v);
  }
};

}  // namespace cure::ensemble
