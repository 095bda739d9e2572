#pragma once
/// The packed solver: eight walls at once, each lane with its own time, step and end, in the same
/// linearly implicit steps as process::Wall and numerics::DenseStepper take one at a time
/// (here ROS3; cure eliminated cell by cell, one tridiagonal system in T). A lane whose stage ends
/// takes up the next job, so no lane waits for another; and no lane sees another's numbers, so a
/// result depends neither on its neighbours nor on the number of threads.

#include <cstddef>

#include "cure/ensemble/lane_watch.hpp"
#include "cure/numerics/tableau.hpp"

namespace cure::ensemble {

template <std::size_t Bytes, LawKind law, DiffusionKind diffusion>
class Kernel : private LaneWatch<Bytes, law, diffusion> {
 public:
  using Lanes = LaneWatch<Bytes, law, diffusion>;
  using typename Lanes::D, typename Lanes::F;
  Kernel(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace)
      : Lanes(shape, jobs, count, workspace) {}

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
  static constexpr auto& tableau = numerics::ros3;
  using Lanes::shape_, Lanes::n_, Lanes::m_, Lanes::first_, Lanes::job_, Lanes::constants_,
      Lanes::was_releasable_, Lanes::T_, Lanes::a_, Lanes::f_, Lanes::flux_, Lanes::T_old_,
      Lanes::flux_old_, Lanes::a_old_, Lanes::f_old_, Lanes::inverse_C_, Lanes::scratch_, Lanes::t_,
      Lanes::stop_, Lanes::rejected_, Lanes::active_, Lanes::fresh_, Lanes::C_, Lanes::G_,
      Lanes::stage_flux_, Lanes::pivot_, Lanes::multiplier_, Lanes::K_, Lanes::S_, Lanes::stage_f_,
      Lanes::fT_, Lanes::fa_, Lanes::shift_, Lanes::B_, Lanes::extra_, Lanes::Ka_, Lanes::h_next_,
      Lanes::next_stop_, Lanes::G_in_, Lanes::Q_in_, Lanes::dG_in_, Lanes::dQ_in_, Lanes::G_out_,
      Lanes::Q_out_, Lanes::dG_out_, Lanes::dQ_out_, Lanes::refill, Lanes::refresh_loads,
      Lanes::write_back, Lanes::watch;

  /// Rates with derivatives and net heat into each cell, at the present states.
  CURE_INLINE_ALL void linearise() {
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
    net_heat(flux_, f_, [this](std::size_t i) { return T_[i]; });
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
  }

  /// @returns lanes whose step is too long: autocatalysis would outrun it
  CURE_INLINE_ALL typename D::Mask factorise() {
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

  /// One stage of the method: slopes at its point into the right-hand sides, then the solution.
  template <std::size_t s>
  CURE_INLINE_ALL void stage() {
    D c[2];
    for (std::size_t j = 0; j < s; ++j) c[j] = D(tableau.C[s][j]) * inverse_h_;
    auto const carried = [&](D* const* K, std::size_t i) {
      if constexpr (s == 1) return c[0] * K[0][i];
      if constexpr (s == 2) return c[0] * K[0][i] + c[1] * K[1][i];
      return D(0.0);
    };
    if constexpr (s == 1) evaluate();
    D const* const f = s == 0 ? f_ : stage_f_;
    D const* const flux = s == 0 ? flux_ : stage_flux_;
    for (std::size_t j = 0; j < m_; ++j) {
      D const r = s == 0 ? f[j] : f[j] + carried(Ka_, j);
      D const A = r * shift_[j];
      Ka_[s][j] = A;
      // The heat of cure at the slope f is in the flux already.
      extra_[j] = S_[j] * (d_ * A - r);
    }
    D* const x = K_[s];
    D const gh = D(tableau.g[s]) * h_;
    D before = gh * slope_in_;
    auto const forward = [&](std::size_t i) {
      D rhs = flux[i] + before;
      if constexpr (s > 0) rhs += C_[i] * carried(K_, i);
      return rhs;
    };
    std::size_t i = 0;
    auto const last = n_ - 1;
    auto const resin_end = first_ + m_ < last ? first_ + m_ : last;
    auto const through = [&](std::size_t end) {
      for (; i < end; ++i) {
        D const rhs = forward(i);
        x[i] = rhs;
        before = rhs * multiplier_[i];
      }
    };
    through(first_);
    for (; i < resin_end; ++i) {
      D const rhs = forward(i) + extra_[i - first_];
      x[i] = rhs;
      before = rhs * multiplier_[i];
    }
    through(last);
    D rhs = forward(last) + gh * slope_out_;
    if (first_ + m_ == n_) rhs += extra_[m_ - 1];
    D later = rhs * pivot_[last];
    x[last] = later;
    for (i = last; i-- > 0;) {
      later = x[i] * pivot_[i] + multiplier_[i] * later;
      x[i] = later;
    }
    for (std::size_t j = 0; j < m_; ++j) Ka_[s][j] += B_[j] * x[first_ + j];
  }

  /// Slopes at the point y + K_0 that the second and the third stage share.
  void evaluate() {
    static_assert(tableau.A[1][0] == 1.0 && tableau.A[2][0] == 1.0 && tableau.A[2][1] == 0.0 &&
                  !tableau.evaluates[2] && tableau.order == 3);
    PackedRate<Bytes, law, diffusion> const rate(constants_);
    for (std::size_t j = 0; j < m_; ++j) {
      F const T = convert<float>(T_[first_ + j] + K_[0][first_ + j]);
      stage_f_[j] = convert<double>(rate.at(T, convert<float>(a_[j] + Ka_[0][j])).value);
    }
    D T = T_[0] + K_[0][0];
    refresh_loads(t_ + D(tableau.a[1]) * h_, T, T_[n_ - 1] + K_[0][n_ - 1]);
    net_heat(stage_flux_, stage_f_, [this](std::size_t i) { return T_[i] + K_[0][i]; });
  }

  /// Net heat into each cell at temperatures T(i) and rates of cure f.
  template <class At>
  void net_heat(D* flux, D const* f, At const& at) {
    D T = at(0);
    D from_left = Q_in_ - G_in_ * T;
    for (std::size_t i = 0; i + 1 < n_; ++i) {
      D const next = at(i + 1);
      D const q = G_[i] * (next - T);
      flux[i] = q + from_left;
      from_left = -q;
      T = next;
    }
    flux[n_ - 1] = Q_out_ - G_out_ * T + from_left;
    for (std::size_t j = 0; j < m_; ++j) flux[first_ + j] += S_[j] * f[j];
  }

  static D total(D* const* K, std::size_t i, double const (&weight)[4]) {
    return D(weight[0]) * K[0][i] + D(weight[1]) * K[1][i] + D(weight[2]) * K[2][i];
  }

  /// Accepts or refuses each lane's step, watches the accepted ones, and moves on.
  CURE_INLINE_ALL void conclude() {
    D worst_T(1e-12), last(0.0);
    D const by_T(1.0 / shape_.temperature_tolerance);
    for (std::size_t i = 0; i < n_; ++i) {
      last = abs(total(K_, i, tableau.e));
      worst_T = max(worst_T, last * by_T);
      K_[2][i] = T_[i] + total(K_, i, tableau.m);
    }
    F worst = convert<float>(worst_T);
    F const tolerance(shape_.alpha_tolerance);
    D const slack(10.0 * shape_.alpha_tolerance);
    for (std::size_t j = 0; j < m_; ++j) {
      D const a = a_[j] + total(Ka_, j, tableau.m);
      F const weight = tolerance * (F(0.01) + abs(convert<float>(a)));
      worst = max(worst, abs(convert<float>(total(Ka_, j, tableau.e))) / weight);
      bad_ = bad_ | (a < -slack) | (a > D(1.0) + slack);
      Ka_[0][j] = a;
    }
    // A number that is none anywhere has come to the last cell through the elimination.
    bad_ = bad_ | !(last < D(1e300));
    auto const good = (!bad_) & (convert<double>(worst) <= D(1.0));
    D const factor = convert<double>(F(0.9) * exp(F(-1.0 / tableau.order) * log(worst)));
    D const grown = h_ * select(bad_, D(0.2), max(D(0.2), min(factor, D(5.0))));

    this->swap(a_, a_old_);
    this->swap(T_, T_old_);
    for (std::size_t j = 0; j < m_; ++j) a_[j] = select(good, Ka_[0][j], a_old_[j]);
    for (std::size_t i = 0; i < n_; ++i) T_[i] = select(good, K_[2][i], T_old_[i]);
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
      this->swap(f_, f_old_);
      this->swap(flux_, flux_old_);
      linearise();
      watch(accepted, t_old);
    }
    move_on(accepted);
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
      write_back(k);
      refill(k);
    }
    if (fresh_ != 0) {
      linearise();
      choose_first_steps();
    }
  }

  D h_{}, d_{}, inverse_h_{};
  D G_lin_in_{}, G_lin_out_{}, slope_in_{}, slope_out_{};
  typename D::Mask lands_{}, bad_{};
};

}  // namespace cure::ensemble
