#pragma once
/// The states of eight walls side by side, in the memory of the caller, and how a lane takes up a
/// job and hands it back.

#include <cstddef>

#include "cure/ensemble/lane_job.hpp"
#include "cure/ensemble/packed_rate.hpp"

namespace cure::ensemble {

template <std::size_t Bytes>
class LaneState {
 public:
  using D = Pack<double, lanes, Bytes>;
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
    auto* at = reinterpret_cast<D*>(workspace + (misfit == 0 ? 0 : (64 - misfit) / 8));
    auto const take = [&at](std::size_t size) {
      D* const array = at;
      at += size;
      return array;
    };
    for (auto** a : {&T_, &T_old_, &flux_old_, &C_, &G_, &flux_, &stage_flux_, &pivot_,
                     &multiplier_, &K_[0], &K_[1], &K_[2]})
      *a = take(n_);
    for (auto** a : {&a_, &S_, &f_, &stage_f_, &fT_, &fa_, &shift_, &B_, &extra_, &Ka_[0], &Ka_[1],
                     &Ka_[2], &a_old_, &f_old_, &inverse_C_})
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

  static void swap(D*& a, D*& b) {
    D* const c = a;
    a = b;
    b = c;
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

  /// Gives a lane's state back to its job.
  void write_back(std::size_t k) {
    for (std::size_t i = 0; i < n_; ++i) job_[k]->T[i] = T_[i].lane(k);
    for (std::size_t j = 0; j < m_; ++j) job_[k]->alpha[j] = a_[j].lane(k);
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

  D *T_, *C_, *G_, *flux_, *stage_flux_, *pivot_, *multiplier_, *K_[3];
  D *a_, *S_, *f_, *stage_f_, *fT_, *fa_, *shift_, *B_, *extra_, *Ka_[3];
  D *T_old_, *flux_old_, *a_old_, *f_old_, *inverse_C_;  ///< at the start of the last step
  double* scratch_;
  D t_{}, h_next_{}, next_stop_{};
  D G_in_{}, Q_in_{}, dG_in_{}, dQ_in_{}, G_out_{}, Q_out_{}, dG_out_{}, dQ_out_{};
};

}  // namespace cure::ensemble
