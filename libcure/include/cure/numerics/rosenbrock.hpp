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
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/numerics/hermite.hpp"
#include "cure/numerics/pack.hpp"
#include "cure/numerics/tableau.hpp"

namespace cure::numerics {

/// How a run is controlled.
struct StepControl {
  double first_step = 0.0;                                    ///< [s]; 0: chosen from the slopes
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
    step_ = dt0;
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
    if (!(step_ > 0.0)) step_ = first_step(system);
    bool rejected = false;
    while (true) {
      double h = std::min(step_, control_.max_step);
      bool const lands = t_ + h * (1.0 + 1e-9) >= t_stop;
      // Two half-size steps rather than a full one and a sliver.
      if (lands) {
        h = t_stop - t_;
      } else if (t_ + 2.0 * h > t_stop) {
        h = 0.5 * (t_stop - t_);
      }
      double const norm = attempt(system, h);
      double const factor =
          std::isfinite(norm)
              ? std::clamp(0.9 * std::pow(norm, -1.0 / tableau_.order), 0.2, rejected ? 1.0 : 5.0)
              : 0.2;
      if (norm <= 1.0) {
        t_old_ = t_;
        t_ = lands ? t_stop : t_ + h;
        y_old_.swap(y_);
        y_.swap(trial_);
        f_old_.swap(f_);
        // A step cut short to land on a corner says little about the next one.
        step_ = lands ? std::max(step_, h * factor) : h * factor;
        ++steps_;
        relinearise(system);
        return {t_old_, t_};
      }
      ++rejections_;
      rejected = true;
      step_ = h * factor;
      if (!(step_ > 1e-13 * std::max(1.0, std::abs(t_)))) {
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
  [[nodiscard]] double current_time_step() const { return step_; }
  [[nodiscard]] std::size_t steps() const { return steps_; }
  [[nodiscard]] std::size_t rejections() const { return rejections_; }

 private:
  double first_step(System& system) const {
    if (control_.first_step > 0.0) return control_.first_step;
    // The slopes alone would move the state by one tolerance in this time.
    double const norm = system.error_norm(f_, y_);
    return norm > 0.0 ? 1.0 / norm : 1.0;
  }

  /// One trial step of size h into trial_. @returns the weighted error; infinite when the linear
  /// system cannot be solved with this step.
  double attempt(System& system, double h) {
    double const infinite = std::numeric_limits<double>::infinity();
    if (!system.factorise(1.0 / (tableau_.gamma * h))) return infinite;
    auto const* f = &f_;
    double c[4];
    for (std::size_t s = 0; s < tableau_.stages; ++s) {
      if (s > 0 && tableau_.evaluates[s]) {
        std::copy_n(tableau_.A[s], s, c);
        combine(stage_y_, y_, c, s, 0.0);
        system.evaluate(t_ + tableau_.a[s] * h, stage_y_, stage_f_);
        f = &stage_f_;
      }
      for (std::size_t j = 0; j < s; ++j) c[j] = tableau_.C[s][j] / h;
      combine(K_[s], *f, c, s, moving_ ? tableau_.g[s] * h : 0.0);
      system.solve(K_[s]);
    }
    std::array<double const*, 4> const k{K_[0].data(), K_[1].data(), K_[2].data(), K_[3].data()};
    auto const conclude = tableau_.stages == 3 ? &conclude_stages<3> : &conclude_stages<4>;
    if (!conclude(trial_.data(), error_.data(), y_.data(), tableau_.m, tableau_.e, k, y_.size())) {
      return infinite;
    }
    return std::max(system.error_norm(error_, trial_), 1e-12);
  }

  /// x = base + the first `count` c_j K_j + ct df/dt, in one pass and without the terms that are 0.
  void combine(state_type& x, state_type const& base, double const* c, std::size_t count,
               double ct) {
    std::array<double, 4> weight{};
    std::array<double const*, 4> term{};
    std::size_t terms = 0;
    auto const take = [&](double w, state_type const& k) {
      if (w == 0.0) return;
      weight[terms] = w;
      term[terms++] = k.data();
    };
    for (std::size_t j = 0; j < count; ++j) take(c[j], K_[j]);
    take(ct, ft_);
    switch (terms) {
      case 0: std::copy(base.begin(), base.end(), x.begin()); break;
      case 1: sum<1>(x, base, weight, term); break;
      case 2: sum<2>(x, base, weight, term); break;
      case 3: sum<3>(x, base, weight, term); break;
      default: sum<4>(x, base, weight, term);
    }
  }

  template <std::size_t N>
  static void sum(state_type& out, state_type const& base, std::array<double, 4> const& weight,
                  std::array<double const*, 4> const& term) {
    add<N>(out.data(), base.data(), weight, term, out.size());
  }

  template <std::size_t N>
  static void add(double* __restrict x, double const* base, std::array<double, 4> const weight,
                  std::array<double const*, 4> const term, std::size_t n) {
    for (std::size_t i = 0; i < n; ++i) {
      double s = base[i];
      for (std::size_t j = 0; j < N; ++j) s += weight[j] * term[j][i];
      x[i] = s;
    }
  }

  /// The new state into `trial` and its error into `error`. @returns whether all of it is finite
  template <std::size_t N>
  static bool conclude_stages(double* trial, double* error, double const* y, double const (&m)[4],
                              double const (&e)[4], std::array<double const*, 4> const k,
                              std::size_t n) {
    using P = Pack<double, 4, 16>;
    P nothing(0.0);
    std::size_t i = 0;
    for (; i + P::size <= n; i += P::size) {
      P const k0 = P::load(k[0] + i);
      P a = P::load(y + i) + P(m[0]) * k0, b = P(e[0]) * k0;
      for (std::size_t j = 1; j < N; ++j) {
        P const kj = P::load(k[j] + i);
        a += P(m[j]) * kj;
        b += P(e[j]) * kj;
      }
      a.store(trial + i);
      b.store(error + i);
      nothing += a - a;
    }
    double rest = 0.0;
    for (; i < n; ++i) {
      double a = y[i], b = 0.0;
      for (std::size_t j = 0; j < N; ++j) {
        a += m[j] * k[j][i];
        b += e[j] * k[j][i];
      }
      trial[i] = a;
      error[i] = b;
      rest += a - a;
    }
    for (std::size_t l = 0; l < P::size; ++l) rest += nothing.lane(l);
    return rest == 0.0;
  }

  Tableau tableau_;
  StepControl control_;
  state_type y_, y_old_, f_, f_old_, trial_, error_, ft_, stage_y_, stage_f_;
  std::array<state_type, 4> K_;
  double t_ = 0.0, t_old_ = 0.0, step_ = 0.0;
  std::size_t steps_ = 0, rejections_ = 0;
  bool linearised_ = false;
  bool moving_ = true;  ///< df/dt is not zero
};

}  // namespace cure::numerics
