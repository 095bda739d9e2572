#pragma once
/// The states of several walls side by side, in the memory of the caller, and how a lane takes up a
/// job and hands it back. All in single precision, which costs some 1e-6 of a step and doubles the
/// lanes of a register: temperatures count from a base of their lane's own, so that what is rounded
/// is a difference of temperatures, 1e-5 K at the worst. Only clocks are in double precision.

#include <cstddef>
#include <utility>

#include "cure/ensemble/lane_job.hpp"
#include "cure/ensemble/lane_resin.hpp"
#include "cure/numerics/step_size.hpp"

namespace cure::ensemble {

template <std::size_t Bytes>
class LaneState {
 public:
  using F = Floats<Bytes>;

  LaneState(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace)
      : shape_(shape),
        jobs_(jobs),
        count_(count),
        n_(shape.cells),
        m_(shape.reacting),
        first_(shape.first_reacting) {
    // Arrays of packs, on a boundary of 64 bytes.
    auto const misfit = reinterpret_cast<std::size_t>(workspace) % 64;
    auto* at = reinterpret_cast<F*>(workspace + (misfit == 0 ? 0 : (64 - misfit) / 8));
    auto const take = [&at](std::size_t size) {
      F* const array = at;
      at += size;
      return array;
    };
    for (auto** a : {&T_, &T_old_, &flux_old_, &C_, &G_, &flux_, &stage_flux_, &pivot_,
                     &multiplier_, &K_[0], &K_[1], &K_[2]})
      *a = take(n_);
    for (auto** a : {&a_, &S_, &f_, &stage_f_, &fT_, &fa_, &shift_, &B_, &feedback_, &Ka_[0],
                     &Ka_[1], &Ka_[2], &a_old_, &f_old_, &inverse_C_})
      *a = take(m_);
    scratch_ = reinterpret_cast<double*>(at);
  }

 protected:
  void refill(std::size_t k) {
    active_ &= ~(1u << k);
    job_[k] = nullptr;
    if (next_ == count_) return;
    auto& job = jobs_[next_++];
    job_[k] = &job;
    active_ |= 1u << k;
    fresh_ |= 1u << k;
    float const base = single(job.T[first_]);
    base_.set(k, base);
    for (std::size_t i = 0; i < n_; ++i) {
      T_[i].set(k, single(job.T[i] - static_cast<double>(base)));
      C_[i].set(k, single(job.C[i]));
      G_[i].set(k, i + 1 < n_ ? single(job.G[i]) : 0.0f);
    }
    for (std::size_t j = 0; j < m_; ++j) {
      a_[j].set(k, single(job.alpha[j]));
      S_[j].set(k, single(job.S[j]));
      inverse_C_[j].set(k, single(1.0 / job.C[first_ + j]));
    }
    constants_.set(k, *job.rate);
    stop_[k] = 0;
    t_[k] = 0.0;
    size_.next.set(k, 1.0f);
    was_releasable_[k] = (job.happened & became_releasable) != 0;
    if (job.constant_loads) set_loads(k, job.loads);
  }

  static float single(double x) { return static_cast<float>(x); }

  static void swap(F*& a, F*& b) {
    F* const c = a;
    a = b;
    b = c;
  }

  void set_loads(std::size_t k, Loads const& l) {
    auto const base = static_cast<double>(base_.lane(k));
    auto const set = [&](heat::SurfaceLoadOf<F>& lanes_of, heat::SurfaceLoad const& load) {
      lanes_of.G.set(k, single(load.G));
      lanes_of.Q.set(k, single(load.heat(base)));
      lanes_of.dG.set(k, single(load.dG));
      lanes_of.dQ.set(k, single(load.heat_change(base)));
    };
    set(in_, l.in);
    set(out_, l.out);
  }

  /// Loads of the lanes whose boundaries change, at `later` after their clocks and at the surface
  /// temperatures.
  void refresh_loads(F const& later, F const& T_first, F const& T_last) {
    for (std::size_t k = 0; k < lanes; ++k) {
      if (job_[k] == nullptr || job_[k]->constant_loads) continue;
      auto const base = static_cast<double>(base_.lane(k));
      Loads l;
      job_[k]->load(job_[k]->load_context, t_[k] + static_cast<double>(later.lane(k)),
                    base + static_cast<double>(T_first.lane(k)),
                    base + static_cast<double>(T_last.lane(k)), l);
      set_loads(k, l);
    }
  }

  /// Moves a lane's clock on after the trial step of its size_.
  void count_step(std::size_t k, bool good) {
    auto& job = *job_[k];
    if (good) {
      t_old_[k] = t_[k];
      t_[k] =
          size_.lands.lane(k) ? job.stops[stop_[k]] : t_[k] + static_cast<double>(size_.h.lane(k));
      ++job.steps;
      return;
    }
    ++job.rejections;
    if (numerics::step_vanished(static_cast<double>(size_.next.lane(k)), t_[k])) {
      job.status = LaneStatus::step_vanished;
    }
  }

  /// Gives a lane's state back to its job.
  void write_back(std::size_t k) {
    auto const base = static_cast<double>(base_.lane(k));
    for (std::size_t i = 0; i < n_; ++i) job_[k]->T[i] = base + static_cast<double>(T_[i].lane(k));
    for (std::size_t j = 0; j < m_; ++j) {
      job_[k]->alpha[j] = static_cast<double>(a_[j].lane(k));
    }
  }

  JobShape const& shape_;
  LaneJob* jobs_;
  std::size_t count_, n_, m_, first_;
  std::size_t next_ = 0;
  LaneJob* job_[lanes] = {};
  std::size_t stop_[lanes] = {};
  bool was_releasable_[lanes] = {};
  unsigned active_ = 0, fresh_ = 0;
  PackedConstants<Bytes> constants_{};

  F *T_, *C_, *G_, *flux_, *stage_flux_, *pivot_, *multiplier_, *K_[3];
  F *a_, *S_, *f_, *stage_f_, *fT_, *fa_, *shift_, *B_, *feedback_, *Ka_[3];
  F *T_old_, *flux_old_, *a_old_, *f_old_, *inverse_C_;  ///< at the start of the last step
  double* scratch_;
  double t_[lanes] = {}, t_old_[lanes] = {};
  F base_{};
  numerics::StepSize<F> size_;
  heat::SurfaceLoadOf<F> in_{}, out_{};  ///< by temperatures from the base
};

}  // namespace cure::ensemble
