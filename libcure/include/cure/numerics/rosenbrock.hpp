#pragma once
/// Linearly implicit (Rosenbrock) steps for stiff systems y' = f(t, y), with an embedded error
/// estimate, step-size control and dense output. In the transformed variables of Hairer & Wanner
/// ("Solving Ordinary Differential Equations II", 2nd ed., sec. IV.7, eq. 7.25) stage i solves
///   (1/(gamma h) - J) K_i = f(t + a_i h, y + sum_j A_ij K_j) + sum_j C_ij/h K_j + g_i h df/dt
/// and y_new = y + sum m_j K_j, error = sum e_j K_j.
///
/// DenseStepper has the form of a Boost.Odeint dense-output stepper (initialize, do_step,
/// calc_state, current_*), so that Odeint's integrate functions and observers work with it.
///
/// A System provides (F, y: std::span over size() values; times in s):
///   size();  linearise(t, y, F): f into F, keeps the Jacobian and df/dt at this point;
///   evaluate(t, y, F);  time_derivative(F): df/dt, false and nothing written when it is zero;
///   factorise(d): prepares (d - J), false when it cannot;  solve(rhs): overwrites rhs with the
///   solution;  error_norm(error, y): weighted, <= 1 is good;  worst(y): names the component that
///   stops a run.

#include <algorithm>
#include <array>
#include <boost/numeric/odeint/stepper/stepper_categories.hpp>
#include <cstddef>
#include <limits>
#include <span>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/numerics/hermite.hpp"
#include "cure/numerics/kernel_choice.hpp"
#include "cure/numerics/step_size.hpp"
#include "cure/numerics/tableau.hpp"

namespace cure::numerics {

/// How a run is controlled.
struct StepControl {
  double max_step = std::numeric_limits<double>::infinity();  ///< [s]
  std::size_t max_steps = 200000;
};

template <class System>
class DenseStepper {
 public:
  using state_type = std::vector<double>;
  using deriv_type = state_type;
  using value_type = double;
  using time_type = double;
  using stepper_category = boost::numeric::odeint::dense_output_stepper_tag;

  explicit DenseStepper(Tableau const& tableau = ros34pw2, StepControl control = {})
      : tableau_(tableau), control_(control) {}

  /// Starts at y0, t0 with a first trial step dt0 (0: chosen from the slopes).
  void initialize(state_type const& y0, double t0, double dt0) {
    y_ = y0;
    t_ = t_old_ = t0;
    size_ = {};
    size_.next = dt0;
    y_old_ = y0;
    linearised_ = false;
    for (auto* v : {&f_, &f_old_, &trial_, &error_, &ft_, &stage_y_, &stage_f_}) {
      v->assign(y0.size(), 0.0);
    }
    for (auto& k : K_) k.assign(y0.size(), 0.0);
  }

  /// One accepted step. @returns its start and end [s].
  /// @throws SolverError when no step can be made
  std::pair<double, double> do_step(System& system) {
    return do_step(system, std::numeric_limits<double>::infinity());
  }

  /// One accepted step that does not pass `t_stop` [s] and lands on it exactly when it reaches it.
  std::pair<double, double> do_step(System& system, double t_stop) {
    if (!linearised_) relinearise(system);
    if (steps_ >= control_.max_steps) throw SolverError("too many steps", t_, system.worst(y_));
    if (!(size_.next > 0.0)) size_.start(system.error_norm(f_, y_), true);
    while (true) {
      size_.next = std::min(size_.next, control_.max_step);
      size_.aim(t_stop - t_);
      if (size_.judge(attempt(system, size_.h), tableau_.order)) {
        t_old_ = t_;
        t_ = size_.lands ? t_stop : t_ + size_.h;
        y_old_.swap(y_);
        y_.swap(trial_);
        f_old_.swap(f_);
        ++steps_;
        relinearise(system);
        return {t_old_, t_};
      }
      ++rejections_;
      if (step_vanished(size_.next, t_)) {
        throw SolverError("the step size fell to nothing", t_, system.worst(y_));
      }
    }
  }

  /// Call after something outside the state has changed at the present time (a corner of a
  /// schedule): the slopes to the right are taken afresh.
  void relinearise(System& system) {
    system.linearise(t_, y_, f_);
    moving_ = system.time_derivative(ft_);
    linearised_ = true;
  }

  /// Cubic Hermite dense output between the last two states, t within the last step [s].
  void calc_state(double t, state_type& x) const {
    x.resize(y_.size());
    if (t_ == t_old_) {
      x = y_;
      return;
    }
    auto const w = hermite_weights(t_old_, t_, t);
    for (std::size_t i = 0; i < x.size(); ++i) x[i] = w(y_old_[i], f_old_[i], y_[i], f_[i]);
  }

  [[nodiscard]] state_type const& current_state() const { return y_; }
  [[nodiscard]] state_type const& previous_state() const { return y_old_; }
  [[nodiscard]] state_type const& current_slope() const { return f_; }
  [[nodiscard]] double current_time() const { return t_; }
  [[nodiscard]] double previous_time() const { return t_old_; }
  [[nodiscard]] double current_time_step() const { return size_.next; }
  [[nodiscard]] std::size_t steps() const { return steps_; }
  [[nodiscard]] std::size_t rejections() const { return rejections_; }

 private:
  /// One trial step of size h into trial_. @returns the weighted error; infinite when the linear
  /// system cannot be solved with this step.
  double attempt(System& system, double h) {
    double const infinite = std::numeric_limits<double>::infinity();
    if (!system.factorise(1.0 / (tableau_.gamma * h))) return infinite;
    auto const n = y_.size();
    auto const* f = &f_;
    for (std::size_t s = 0; s < tableau_.stages; ++s) {
      if (s > 0 && tableau_.evaluates[s]) {
        WeightedArrays moved;
        for (std::size_t j = 0; j < s; ++j) moved.add(tableau_.A[s][j], K_[j].data());
        loops_->combine(stage_y_.data(), y_.data(), moved, n);
        system.evaluate(t_ + tableau_.a[s] * h, stage_y_, stage_f_);
        f = &stage_f_;
      }
      WeightedArrays before;
      for (std::size_t j = 0; j < s; ++j) before.add(tableau_.C[s][j] / h, K_[j].data());
      if (moving_) before.add(tableau_.g[s] * h, ft_.data());
      loops_->combine(K_[s].data(), f->data(), before, n);
      system.solve(K_[s]);
    }
    StepEnd end;
    end.y = y_.data();
    end.trial = trial_.data();
    end.error = error_.data();
    end.stages = tableau_.stages;
    for (std::size_t s = 0; s < end.stages; ++s) {
      end.K[s] = K_[s].data();
      end.m[s] = tableau_.m[s];
      end.e[s] = tableau_.e[s];
    }
    if (!loops_->conclude(end, n)) return infinite;
    return system.error_norm(error_, trial_);
  }

  Tableau tableau_;
  StepControl control_;
  VectorKernels const* loops_ = &vector_kernels();
  state_type y_, y_old_, f_, f_old_, trial_, error_, ft_, stage_y_, stage_f_;
  std::array<state_type, 4> K_;
  StepSize<double> size_;
  double t_ = 0.0, t_old_ = 0.0;
  std::size_t steps_ = 0, rejections_ = 0;
  bool linearised_ = false;
  bool moving_ = true;  ///< df/dt is not zero
};

}  // namespace cure::numerics
