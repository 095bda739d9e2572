#pragma once
/// The packed solver: eight walls at once, each lane with its own time, step and end, in the same
/// linearly implicit steps as process::Wall and numerics::DenseStepper take one at a time
/// (ROS34PW2; cure eliminated cell by cell, one tridiagonal system in T). A lane whose stage ends
/// takes up the next job, so no lane waits for another; and no lane sees another's numbers, so a
/// result depends neither on its neighbours nor on the number of threads.

#include <cstddef>

#include "cure/ensemble/lane_job.hpp"
#include "cure/ensemble/packed_rate.hpp"
#include "cure/numerics/tableau.hpp"

namespace cure::ensemble {

template <std::size_t Bytes, LawKind law, DiffusionKind diffusion>
class Kernel {
 public:
  using D = Pack<double, lanes, Bytes>;
  using F = Floats<Bytes>;

  Kernel(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace)
      : shape_(shape),
        jobs_(jobs),
        count_(count),
        n_(shape.cells),
        m_(shape.reacting),
        first_(shape.first_reacting) {
    // Arrays of packs, on a boundary of 64 bytes.
    auto const misfit = reinterpret_cast<std::size_t>(workspace) % 64;
    auto* at = reinterpret_cast<D*>(workspace + (misfit == 0 ? 0 : (64 - misfit) / 8));
    auto const take = [&at](std::size_t size) {
      D* const array = at;
      at += size;
      return array;
    };
    for (auto** a : {&T_, &C_, &G_, &flux_, &pivot_, &multiplier_, &K_[0], &K_[1], &K_[2], &K_[3]})
      *a = take(n_);
    for (auto** a : {&a_, &S_, &f_, &fT_, &fa_, &shift_, &B_, &extra_, &Ka_[0], &Ka_[1], &Ka_[2],
                     &Ka_[3], &T_old_, &dT_old_, &a_old_, &f_old_, &inverse_C_})
      *a = take(m_);
    scratch_ = reinterpret_cast<double*>(at);
  }

  void run() {
    for (std::size_t k = 0; k < lanes; ++k) refill(k);
    linearise();
    choose_first_steps();
    while (active_ != 0) {
      attempt();
      conclude();
    }
  }

 private:
  static constexpr auto& tableau = numerics::ros34pw2;

  void refill(std::size_t k) {
    active_ &= ~(1u << k);
    job_[k] = nullptr;
    if (next_ == count_) return;
    auto& job = jobs_[next_++];
    job_[k] = &job;
    active_ |= 1u << k;
    fresh_ |= 1u << k;
    for (std::size_t i = 0; i < n_; ++i) {
      T_[i].set(k, job.T[i]);
      C_[i].set(k, job.C[i]);
      G_[i].set(k, i + 1 < n_ ? job.G[i] : 0.0);
    }
    for (std::size_t j = 0; j < m_; ++j) {
      a_[j].set(k, job.alpha[j]);
      S_[j].set(k, job.S[j]);
      inverse_C_[j].set(k, 1.0 / job.C[first_ + j]);
    }
    constants_.set(k, *job.rate);
    stop_[k] = 0;
    next_stop_.set(k, job.stops[0]);
    t_.set(k, 0.0);
    h_next_.set(k, 1.0);
    rejected_[k] = false;
    was_releasable_[k] = false;
    if (job.constant_loads) set_loads(k, job.loads);
  }

  void set_loads(std::size_t k, Loads const& l) {
    G_in_.set(k, l.G_in);
    Q_in_.set(k, l.Q_in);
    dG_in_.set(k, l.dG_in);
    dQ_in_.set(k, l.dQ_in);
    G_out_.set(k, l.G_out);
    Q_out_.set(k, l.Q_out);
    dG_out_.set(k, l.dG_out);
    dQ_out_.set(k, l.dQ_out);
  }

  /// Loads of the lanes whose boundaries change, at time t and the surface temperatures.
  void refresh_loads(D const& t, D const& T_first, D const& T_last) {
    for (std::size_t k = 0; k < lanes; ++k) {
      if (job_[k] == nullptr || job_[k]->constant_loads) continue;
      Loads l;
      job_[k]->load(job_[k]->load_context, t.lane(k), T_first.lane(k), T_last.lane(k), l);
      set_loads(k, l);
    }
  }

  /// Rates with derivatives and net heat into each cell, at the present states.
  __attribute__((flatten)) void linearise() {
    refresh_loads(t_, T_[0], T_[n_ - 1]);
    PackedRate<Bytes, law, diffusion> const rate(constants_);
    for (std::size_t j = 0; j < m_; ++j) {
      auto const r = rate.at(convert<float>(T_[first_ + j]), convert<float>(a_[j]));
      f_[j] = convert<double>(r.value);
      fT_[j] = convert<double>(r.dT);
      fa_[j] = convert<double>(r.dalpha);
    }
    G_lin_in_ = G_in_;
    G_lin_out_ = G_out_;
    slope_in_ = dQ_in_ - dG_in_ * T_[0];
    slope_out_ = dQ_out_ - dG_out_ * T_[n_ - 1];
    D from_left = Q_in_ - G_in_ * T_[0];
    for (std::size_t i = 0; i + 1 < n_; ++i) {
      D const q = G_[i] * (T_[i + 1] - T_[i]);
      flux_[i] = q + from_left;
      from_left = -q;
    }
    flux_[n_ - 1] = Q_out_ - G_out_ * T_[n_ - 1] + from_left;
    for (std::size_t j = 0; j < m_; ++j) flux_[first_ + j] += S_[j] * f_[j];
  }

  /// For lanes just filled: the slopes alone would move the state by one tolerance in this time.
  void choose_first_steps() {
    D worst(1e-12);
    for (std::size_t i = 0; i < n_; ++i) {
      worst = max(worst, abs(flux_[i] / C_[i]) * D(1.0 / shape_.temperature_tolerance));
    }
    for (std::size_t j = 0; j < m_; ++j) worst = max(worst, alpha_error(f_[j], a_[j]));
    for (std::size_t k = 0; k < lanes; ++k) {
      if ((fresh_ >> k & 1u) != 0) h_next_.set(k, 1.0 / worst.lane(k));
    }
    fresh_ = 0;
  }

  [[nodiscard]] D alpha_error(D const& error, D const& alpha) const {
    return abs(error) / (D(shape_.alpha_tolerance) * (D(0.01) + abs(alpha)));
  }

  /// One trial step of every lane: K_, Ka_ and the weighted error.
  void attempt() {
    // Two half-size steps rather than a full one and a sliver.
    D const left = next_stop_ - t_;
    lands_ = h_next_ * D(1.0 + 1e-9) >= left;
    h_ = select(lands_, left, select(h_next_ * D(2.0) > left, left * D(0.5), h_next_));
    d_ = D(1.0) / (D(tableau.gamma) * h_);
    bad_ = factorise();
    inverse_h_ = D(1.0) / h_;
    stage<0>();
    stage<1>();
    stage<2>();
    stage<3>();
  }

  /// @returns lanes whose step is too long: autocatalysis would outrun it
  __attribute__((flatten)) typename D::Mask factorise() {
    auto bad = D(0.0) > D(1.0);
    for (std::size_t j = 0; j < m_; ++j) {
      D const own = d_ - fa_[j];
      bad = bad | !(own > D(0.1) * d_);
      shift_[j] = D(1.0) / own;
      B_[j] = fT_[j] * shift_[j];
    }
    D above(0.0), left = G_lin_in_;
    for (std::size_t i = 0; i < n_; ++i) {
      D const Cd = C_[i] * d_;
      D const right = i + 1 < n_ ? G_[i] : G_lin_out_;
      D diagonal = Cd + left + right - above;
      if (i >= first_ && i < first_ + m_) diagonal -= S_[i - first_] * d_ * B_[i - first_];
      bad = bad | !(diagonal > D(1e-3) * Cd);
      pivot_[i] = D(1.0) / diagonal;
      multiplier_[i] = G_[i] * pivot_[i];
      above = G_[i] * multiplier_[i];
      left = G_[i];
    }
    return bad;
  }

  template <std::size_t s>
  [[nodiscard]] D stage_value(D const& y, D* const* K, std::size_t i) const {
    D sum = y;
    for (std::size_t j = 0; j < s; ++j) sum += D(tableau.A[s][j]) * K[j][i];
    return sum;
  }

  template <std::size_t s>
  __attribute__((flatten)) void stage() {
    D c[3];
    for (std::size_t j = 0; j < s; ++j) c[j] = D(tableau.C[s][j]) * inverse_h_;
    auto const carried = [&c](D* const* K, std::size_t i) {
      D sum(0.0);
      for (std::size_t j = 0; j < s; ++j) sum += c[j] * K[j][i];
      return sum;
    };
    PackedRate<Bytes, law, diffusion> const rate(constants_);
    for (std::size_t j = 0; j < m_; ++j) {
      D f = f_[j];
      if constexpr (s > 0) {
        D const T = stage_value<s>(T_[first_ + j], K_, first_ + j);
        D const a = stage_value<s>(a_[j], Ka_, j);
        f = convert<double>(rate.at(convert<float>(T), convert<float>(a)).value);
      }
      D const r = f + carried(Ka_, j);
      D const A = r * shift_[j];
      Ka_[s][j] = A;
      // Of stage 0 the heat of cure is in the flux already.
      extra_[j] = S_[j] * (d_ * A - r + (s > 0 ? f : D(0.0)));
    }
    D* const x = K_[s];
    D const gh = D(tableau.g[s]) * h_;
    D T = stage_value<s>(T_[0], K_, 0);
    D from_left(0.0);
    if constexpr (s > 0) {
      refresh_loads(t_ + D(tableau.a[s]) * h_, T, stage_value<s>(T_[n_ - 1], K_, n_ - 1));
      from_left = Q_in_ - G_in_ * T;
    }
    from_left += gh * slope_in_;
    D before(0.0);
    auto const forward = [&](std::size_t i, D const& heat) {
      D rhs = heat + from_left;
      if constexpr (s == 0) {
        rhs += flux_[i];
        from_left = D(0.0);
      } else {
        D const T_next = stage_value<s>(T_[i + 1], K_, i + 1);
        D const q = G_[i] * (T_next - T);
        rhs += q + C_[i] * carried(K_, i);
        from_left = -q;
        T = T_next;
      }
      before = rhs + before;
      x[i] = before;
      before = before * multiplier_[i];
    };
    std::size_t i = 0;
    std::size_t const resin_end = first_ + m_ < n_ ? first_ + m_ : n_ - 1;
    for (; i < first_; ++i) forward(i, D(0.0));
    for (; i < resin_end; ++i) forward(i, extra_[i - first_]);
    for (; i + 1 < n_; ++i) forward(i, D(0.0));
    D rhs = from_left + gh * slope_out_ + before;
    if (first_ + m_ == n_) rhs += extra_[m_ - 1];
    if constexpr (s == 0) {
      rhs += flux_[n_ - 1];
    } else {
      rhs += Q_out_ - G_out_ * T + C_[n_ - 1] * carried(K_, n_ - 1);
    }
    D later = rhs * pivot_[n_ - 1];
    x[n_ - 1] = later;
    for (i = n_ - 1; i-- > 0;) {
      later = x[i] * pivot_[i] + multiplier_[i] * later;
      x[i] = later;
    }
    for (std::size_t j = 0; j < m_; ++j) Ka_[s][j] += B_[j] * x[first_ + j];
  }

  /// Accepts or refuses each lane's step, watches the accepted ones, and moves on.
  __attribute__((flatten)) void conclude() {
    auto const total = [](D* const* K, std::size_t i, auto const& weight) {
      return D(weight[0]) * K[0][i] + D(weight[1]) * K[1][i] + D(weight[2]) * K[2][i] +
             D(weight[3]) * K[3][i];
    };
    D worst(1e-12);
    D last(0.0);
    D const by_T(1.0 / shape_.temperature_tolerance);
    for (std::size_t i = 0; i < n_; ++i) {
      last = abs(total(K_, i, tableau.e));
      worst = max(worst, last * by_T);
    }
    D const slack(10.0 * shape_.alpha_tolerance);
    for (std::size_t j = 0; j < m_; ++j) {
      D const a = a_[j] + total(Ka_, j, tableau.m);
      worst = max(worst, alpha_error(total(Ka_, j, tableau.e), a));
      bad_ = bad_ | (a < -slack) | (a > D(1.0) + slack);
    }
    // A number that is none anywhere has come to the last cell through the elimination.
    bad_ = bad_ | !(last < D(1e300));
    auto const good = (!bad_) & (worst <= D(1.0));
    D const factor = convert<double>(
        F(0.9) * exp(F(-1.0 / tableau.order) * log(convert<float>(max(worst, D(1e-12))))));
    D const grown = h_ * select(bad_, D(0.2), max(D(0.2), min(factor, D(5.0))));

    for (std::size_t j = 0; j < m_; ++j) {
      T_old_[j] = T_[first_ + j];
      dT_old_[j] = flux_[first_ + j] * inverse_C_[j];
      a_old_[j] = a_[j];
      f_old_[j] = f_[j];
    }
    for (std::size_t i = 0; i < n_; ++i) {
      T_[i] = select(good, T_[i] + total(K_, i, tableau.m), T_[i]);
    }
    for (std::size_t j = 0; j < m_; ++j) {
      a_[j] = select(good, a_[j] + total(Ka_, j, tableau.m), a_[j]);
    }
    D const t_old = t_;
    t_ = select(good, select(lands_, next_stop_, t_ + h_), t_);
    unsigned accepted = 0;
    for (std::size_t k = 0; k < lanes; ++k) {
      if (job_[k] == nullptr) continue;
      auto& job = *job_[k];
      if (good.lane(k)) {
        accepted |= 1u << k;
        double const step = rejected_[k] && grown.lane(k) > h_.lane(k) ? h_.lane(k) : grown.lane(k);
        // A step cut short to land on a corner says little about the next one.
        bool const cut = lands_.lane(k) && h_next_.lane(k) > step;
        if (!cut) h_next_.set(k, step);
        rejected_[k] = false;
        ++job.steps;
        continue;
      }
      ++job.rejections;
      rejected_[k] = true;
      double const smaller = grown.lane(k) < h_.lane(k) ? grown.lane(k) : 0.5 * h_.lane(k);
      h_next_.set(k, smaller);
      double const t = t_.lane(k);
      if (!(smaller > 1e-13 * (t > 1.0 ? t : 1.0))) job.status = LaneStatus::step_vanished;
    }
    if (accepted != 0) {
      linearise();
      watch(accepted, t_old);
    }
    move_on(accepted);
  }

  /// Hottest resin, and the criteria's signs at the ends of the accepted steps.
  __attribute__((flatten)) void watch(unsigned accepted, D const& t_old) {
    PackedRate<Bytes, law, diffusion> const rate(constants_);
    F first(-1.0), last(2.0);
    D hot = T_[first_];
    auto turns = D(0.0) > D(1.0);
    for (std::size_t j = 0; j < m_; ++j) {
      F const a = convert<float>(a_[j]);
      first = max(first, a);
      last = min(last, a);
      hot = max(hot, T_[first_ + j]);
      turns = turns | ((dT_old_[j] > D(0.0)) & (flux_[first_ + j] < D(0.0)));
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
    if (inside) hot[0] = hot[1] = hot[2] = T_old_[0];
    for (std::size_t j = 0; j < m_ && inside; ++j) {
      D const T0 = T_old_[j], T1 = T_[first_ + j];
      D const f0 = h * dT_old_[j], f1 = h * flux_[first_ + j] * inverse_C_[j];
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
    v.T0 = gather([this](std::size_t j) { return T_old_[j]; });
    v.T1 = gather([this](std::size_t j) { return T_[first_ + j]; });
    v.dT0 = gather([this](std::size_t j) { return dT_old_[j]; });
    v.dT1 = gather([this](std::size_t j) { return flux_[first_ + j] * inverse_C_[j]; });
    v.a0 = gather([this](std::size_t j) { return a_old_[j]; });
    v.a1 = gather([this](std::size_t j) { return a_[j]; });
    v.da0 = gather([this](std::size_t j) { return f_old_[j]; });
    v.da1 = gather([this](std::size_t j) { return f_[j]; });
    job_[k]->event(job_[k]->context, v);
  }

  /// Lanes at a corner look to the next one; lanes at the end, or that failed, take the next job.
  void move_on(unsigned accepted) {
    for (std::size_t k = 0; k < lanes; ++k) {
      if (job_[k] == nullptr) continue;
      auto& job = *job_[k];
      if ((accepted >> k & 1u) != 0 && lands_.lane(k)) {
        if (++stop_[k] == job.stop_count) {
          job.status = LaneStatus::finished;
        } else {
          next_stop_.set(k, job.stops[stop_[k]]);
        }
      }
      if (job.status == LaneStatus::waiting && job.steps + job.rejections >= shape_.max_steps) {
        job.status = LaneStatus::too_many_steps;
      }
      if (job.status == LaneStatus::waiting) continue;
      for (std::size_t i = 0; i < n_; ++i) job.T[i] = T_[i].lane(k);
      for (std::size_t j = 0; j < m_; ++j) job.alpha[j] = a_[j].lane(k);
      refill(k);
    }
    if (fresh_ != 0) {
      linearise();
      choose_first_steps();
    }
  }

  JobShape const& shape_;
  LaneJob* jobs_;
  std::size_t count_, n_, m_, first_;
  std::size_t next_ = 0;
  LaneJob* job_[lanes] = {};
  std::size_t stop_[lanes] = {};
  bool rejected_[lanes] = {}, was_releasable_[lanes] = {};
  unsigned active_ = 0, fresh_ = 0;
  PackedConstants<Bytes> constants_{};

  D *T_, *C_, *G_, *flux_, *pivot_, *multiplier_, *K_[4];
  D *a_, *S_, *f_, *fT_, *fa_, *shift_, *B_, *extra_, *Ka_[4];
  D *T_old_, *dT_old_, *a_old_, *f_old_, *inverse_C_;
  double* scratch_;
  D t_{}, h_{}, h_next_{}, next_stop_{}, d_{}, inverse_h_{};
  D G_in_{}, Q_in_{}, dG_in_{}, dQ_in_{}, G_out_{}, Q_out_{}, dG_out_{}, dQ_out_{};
  D G_lin_in_{}, G_lin_out_{}, slope_in_{}, slope_out_{};
  typename D::Mask lands_{}, bad_{};
};

template <std::size_t Bytes, LawKind law>
void solve_law(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace) {
  switch (shape.diffusion) {
    case DiffusionKind::none:
      return Kernel<Bytes, law, DiffusionKind::none>(shape, jobs, count, workspace).run();
    case DiffusionKind::chern_poehlein:
      return Kernel<Bytes, law, DiffusionKind::chern_poehlein>(shape, jobs, count, workspace).run();
    case DiffusionKind::rabinowitch:
      return Kernel<Bytes, law, DiffusionKind::rabinowitch>(shape, jobs, count, workspace).run();
  }
}

/// See Solve; for registers of `Bytes`.
template <std::size_t Bytes>
void solve_packed(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace) {
  switch (shape.law) {
    case LawKind::nth_order:
      return solve_law<Bytes, LawKind::nth_order>(shape, jobs, count, workspace);
    case LawKind::autocatalytic:
      return solve_law<Bytes, LawKind::autocatalytic>(shape, jobs, count, workspace);
    case LawKind::kamal_sourour:
      return solve_law<Bytes, LawKind::kamal_sourour>(shape, jobs, count, workspace);
  }
}

}  // namespace cure::ensemble
