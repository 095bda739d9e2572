#pragma once
/// The packed solver: several walls at once, each lane with its own time, step and end, in the same
/// linearly implicit steps as process::Wall and numerics::DenseStepper take one at a time
/// (here ROS3; cure eliminated cell by cell, one tridiagonal system in T). A lane whose stage ends
/// takes up the next job, so no lane waits for another; and no lane sees another's numbers, so a
/// result depends neither on its neighbours nor on the number of threads.

#include <algorithm>
#include <cstddef>
#include <utility>

#include "cure/ensemble/lane_watch.hpp"
#include "cure/numerics/tableau.hpp"

namespace cure::ensemble {

template <std::size_t Bytes, std::size_t law, std::size_t form, std::size_t diffusion>
class Kernel : private LaneWatch<Bytes, law, form, diffusion> {
 public:
  using Lanes = LaneWatch<Bytes, law, form, diffusion>;
  using typename Lanes::F;
  Kernel(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace)
      : Lanes(shape, jobs, count, workspace) {}

  void run() {
    for (std::size_t k = 0; k < lanes; ++k) refill(k);
    linearise();
    choose_first_steps();
    // A few milliseconds of steps.
    std::size_t const patience = 1 + 50000 / n_;
    std::size_t rounds = 0;
    while (active_ != 0) {
      attempt();
      conclude();
      if (++rounds % patience == 0 && shape_.stop != nullptr && shape_.stop()) {
        return;
      }
    }
  }

 private:
  static constexpr auto& tableau = numerics::ros3;
  using Lanes::shape_, Lanes::n_, Lanes::m_, Lanes::first_, Lanes::job_, Lanes::constants_,
      Lanes::T_, Lanes::a_, Lanes::f_, Lanes::flux_, Lanes::T_old_, Lanes::flux_old_, Lanes::a_old_,
      Lanes::f_old_, Lanes::t_, Lanes::t_old_, Lanes::stop_, Lanes::active_, Lanes::fresh_,
      Lanes::base_, Lanes::C_, Lanes::G_, Lanes::stage_flux_, Lanes::pivot_, Lanes::multiplier_,
      Lanes::K_, Lanes::S_, Lanes::stage_f_, Lanes::fT_, Lanes::fa_, Lanes::shift_, Lanes::B_,
      Lanes::feedback_, Lanes::Ka_, Lanes::size_, Lanes::in_, Lanes::out_, Lanes::refill,
      Lanes::refresh_loads, Lanes::write_back, Lanes::count_step, Lanes::single, Lanes::watch;

  /// Rates with derivatives and net heat into each cell, at the present states.
  CURE_INLINE_ALL void linearise() {
    refresh_loads(F(0.0), T_[0], T_[n_ - 1]);
    LaneResin<Bytes, law, form, diffusion> const rate(constants_);
    F const base = base_;
    for (std::size_t j = 0; j < m_; ++j) {
      auto const r = rate.at(base + T_[first_ + j], a_[j]);
      f_[j] = r.value;
      fT_[j] = r.dT;
      fa_[j] = r.dalpha;
    }
    G_lin_in_ = in_.G;
    G_lin_out_ = out_.G;
    slope_in_ = in_.heat_change(T_[0]);
    slope_out_ = out_.heat_change(T_[n_ - 1]);
    net_heat(flux_, f_, [this](std::size_t i) { return T_[i]; });
  }

  /// For lanes just filled.
  void choose_first_steps() {
    F worst(0.0);
    for (std::size_t i = 0; i < n_; ++i) {
      worst = max(worst, abs(flux_[i] / C_[i]) * F(1.0 / shape_.tolerance.temperature));
    }
    for (std::size_t j = 0; j < m_; ++j) worst = max(worst, alpha_error(f_[j], a_[j]));
    size_.start(worst, fresh_lanes());
    fresh_ = 0;
  }

  [[nodiscard]] typename F::Mask fresh_lanes() const {
    F fresh(0.0);
    for (std::size_t k = 0; k < lanes; ++k) fresh.set(k, (fresh_ >> k & 1u) != 0 ? 1.0f : 0.0f);
    return fresh > F(0.0);
  }

  [[nodiscard]] F alpha_error(F const& error, F const& alpha) const {
    auto const& tolerance = shape_.tolerance;
    return abs(error) / (F(tolerance.alpha) * (F(tolerance.alpha_floor) + abs(alpha)));
  }

  /// One trial step of every lane: K_, Ka_ and the weighted error.
  void attempt() {
    F left(1.0);
    for (std::size_t k = 0; k < lanes; ++k) {
      if (job_[k] != nullptr) left.set(k, single(job_[k]->stops[stop_[k]] - t_[k]));
    }
    size_.aim(left);
    d_ = F(1.0) / (F(tableau.gamma) * size_.h);
    bad_ = factorise();
    inverse_h_ = F(1.0) / size_.h;
    stage<0>();
    stage<1>();
    stage<2>();
  }

  /// Without a subtraction in the chain of pivots: what a row has over its links is carried on, and
  /// a pivot is that and the next link. Each keeps its digits, however long the step (after W.K.
  /// Grassmann, M.I. Taksar, D.P. Heyman, Oper. Res. 33, 1107, 1985; from memory).
  /// @returns lanes whose step is too long: autocatalysis would outrun it
  CURE_INLINE_ALL typename F::Mask factorise() {
    auto bad = F(0.0) > F(1.0);
    F const d = d_;
    for (std::size_t j = 0; j < m_; ++j) {
      F const own = d - fa_[j];
      bad = bad | !(own > F(numerics::least_cell_pivot) * d);
      F const shift = F(1.0) / own;
      shift_[j] = shift;
      B_[j] = fT_[j] * shift;
      // Of the heat of cure the flux holds S f; with K = A + B K_T it is S (d A - r) more, which is
      // S r fa/(d - fa).
      feedback_[j] = S_[j] * fa_[j] * shift;
    }
    F excess = G_lin_in_;
    for (std::size_t i = 0; i < n_; ++i) {
      F const Cd = C_[i] * d;
      F own = Cd;
      if (i >= first_ && i < first_ + m_) own -= S_[i - first_] * d * B_[i - first_];
      excess += own;
      F const pivot = excess + (i + 1 < n_ ? G_[i] : G_lin_out_);
      bad = bad | !(pivot > F(numerics::least_row_pivot) * Cd);
      F const inverse = F(1.0) / pivot;
      pivot_[i] = inverse;
      F const multiplier = G_[i] * inverse;
      multiplier_[i] = multiplier;
      excess = multiplier * excess;
    }
    return bad;
  }

  /// One stage of the method: slopes at its point into the right-hand sides, then the solution.
  template <std::size_t s>
  CURE_INLINE_ALL void stage() {
    F c[2];
    for (std::size_t j = 0; j < s; ++j) c[j] = F(tableau.C[s][j]) * inverse_h_;
    auto const carried = [&](F* const* K, std::size_t i) {
      if constexpr (s == 1) return c[0] * K[0][i];
      if constexpr (s == 2) return c[0] * K[0][i] + c[1] * K[1][i];
      return F(0.0);
    };
    if constexpr (s == 1) evaluate();
    F const* const f = s == 0 ? f_ : stage_f_;
    F const* const flux = s == 0 ? flux_ : stage_flux_;
    F* const x = K_[s];
    F const gh = F(tableau.g[s]) * size_.h;
    F before = gh * slope_in_;
    auto const forward = [&](std::size_t i) {
      F rhs = flux[i] + before;
      if constexpr (s > 0) rhs += C_[i] * carried(K_, i);
      return rhs;
    };
    std::size_t i = 0;
    auto const last = n_ - 1;
    auto const through = [&](std::size_t end) {
      for (; i < end; ++i) {
        F const rhs = forward(i);
        x[i] = rhs;
        before = rhs * multiplier_[i];
      }
    };
    through(first_);
    for (std::size_t j = 0; j < m_; ++j, ++i) {
      F r = f[j];
      if constexpr (s > 0) r += carried(Ka_, j);
      Ka_[s][j] = r * shift_[j];
      F const rhs = forward(i) + feedback_[j] * r;
      x[i] = rhs;
      before = rhs * multiplier_[i];
    }
    through(last);
    if (i == last) x[last] = forward(last);
    F later = (x[last] + gh * slope_out_) * pivot_[last];
    x[last] = later;
    for (i = last; i-- > 0;) {
      later = x[i] * pivot_[i] + multiplier_[i] * later;
      x[i] = later;
    }
    for (std::size_t j = 0; j < m_; ++j) Ka_[s][j] += B_[j] * x[first_ + j];
  }

  /// Slopes at the point y + K_0 that the second and the third stage share.
  CURE_INLINE_ALL void evaluate() {
    static_assert(tableau.A[1][0] == 1.0 && tableau.A[2][0] == 1.0 && tableau.A[2][1] == 0.0 &&
                  !tableau.evaluates[2] && tableau.order == 3);
    LaneResin<Bytes, law, form, diffusion> const rate(constants_);
    F const base = base_;
    for (std::size_t j = 0; j < m_; ++j) {
      F const T = base + (T_[first_ + j] + K_[0][first_ + j]);
      stage_f_[j] = rate.at(T, a_[j] + Ka_[0][j]).value;
    }
    refresh_loads(F(tableau.a[1]) * size_.h, T_[0] + K_[0][0], T_[n_ - 1] + K_[0][n_ - 1]);
    net_heat(stage_flux_, stage_f_, [this](std::size_t i) { return T_[i] + K_[0][i]; });
  }

  /// Net heat into each cell at temperatures T(i) and rates of cure f.
  template <class At>
  void net_heat(F* flux, F const* f, At const& at) {
    F T = at(0);
    F from_left = in_.heat(T);
    for (std::size_t i = 0; i + 1 < n_; ++i) {
      F const next = at(i + 1);
      F const q = G_[i] * (next - T);
      flux[i] = q + from_left;
      from_left = -q;
      T = next;
    }
    flux[n_ - 1] = out_.heat(T) + from_left;
    for (std::size_t j = 0; j < m_; ++j) flux[first_ + j] += S_[j] * f[j];
  }

  static F total(F* const* K, std::size_t i, double const (&weight)[4]) {
    return F(weight[0]) * K[0][i] + F(weight[1]) * K[1][i] + F(weight[2]) * K[2][i];
  }

  /// Accepts or refuses each lane's step, watches the accepted ones, and moves on.
  CURE_INLINE_ALL void conclude() {
    F worst(0.0), last(0.0);
    for (std::size_t i = 0; i < n_; ++i) {
      last = abs(total(K_, i, tableau.e));
      worst = max(worst, last);
      K_[2][i] = T_[i] + total(K_, i, tableau.m);
    }
    worst *= F(1.0 / shape_.tolerance.temperature);
    F const slack(shape_.tolerance.alpha_slack());
    for (std::size_t j = 0; j < m_; ++j) {
      F const a = a_[j] + total(Ka_, j, tableau.m);
      worst = max(worst, alpha_error(total(Ka_, j, tableau.e), a));
      bad_ = bad_ | (a < -slack) | (a > F(1.0) + slack);
      Ka_[0][j] = a;
    }
    // A number that is none anywhere has come to the last cell through the elimination.
    bad_ = bad_ | !(last < F(1e30));
    // A lane just filled rode along, its slopes not yet known.
    if (fresh_ != 0) bad_ = bad_ | fresh_lanes();
    auto const good = size_.judge(select(bad_, F(__builtin_inff()), worst), tableau.order);

    this->swap(a_, a_old_);
    this->swap(T_, T_old_);
    for (std::size_t j = 0; j < m_; ++j) a_[j] = select(good, Ka_[0][j], a_old_[j]);
    for (std::size_t i = 0; i < n_; ++i) T_[i] = select(good, K_[2][i], T_old_[i]);
    unsigned const tried = active_ & ~fresh_, accepted = good.bits() & tried;
    for (std::size_t k = 0; k < lanes; ++k) {
      if ((tried >> k & 1u) != 0) count_step(k, (accepted >> k & 1u) != 0);
    }
    if ((accepted | fresh_) != 0) {
      this->swap(f_, f_old_);
      this->swap(flux_, flux_old_);
      linearise();
      if (fresh_ != 0) choose_first_steps();
      watch(accepted);
    }
    move_on(accepted);
  }

  /// Lanes at a corner look to the next one; lanes at the end, or that failed, take the next job.
  void move_on(unsigned accepted) {
    for (std::size_t k = 0; k < lanes; ++k) {
      if (job_[k] == nullptr) continue;
      auto& job = *job_[k];
      if ((accepted >> k & 1u) != 0 && size_.lands.lane(k) && ++stop_[k] == job.stop_count) {
        job.status = LaneStatus::finished;
      }
      if (job.status == LaneStatus::waiting && job.steps + job.rejections >= shape_.max_steps) {
        job.status = LaneStatus::too_many_steps;
      }
      if (job.status == LaneStatus::waiting) continue;
      write_back(k);
      refill(k);
    }
  }

  F d_{}, inverse_h_{};
  F G_lin_in_{}, G_lin_out_{}, slope_in_{}, slope_out_{};
  typename F::Mask bad_{};
};

}  // namespace cure::ensemble
