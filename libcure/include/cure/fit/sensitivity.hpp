#pragma once
/// Solves a few stiff equations y' = f(t, y) together with the sensitivities of y to the
/// parameters: y and f are dual numbers, so each step carries the variational equations along
/// exactly as it carries the states. ROS34PW2 keeps its order with any approximate Jacobian
/// (numerics/ rosenbrock.hpp), so the plain Jacobian of the values serves values and derivatives
/// alike.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "cure/error.hpp"
#include "cure/kinetics/cure_rate.hpp"
#include "cure/numerics/hermite.hpp"
#include "cure/numerics/rosenbrock.hpp"
#include "cure/numerics/small_lu.hpp"
#include "cure/scalar.hpp"

namespace cure::fit {

inline constexpr std::size_t max_solve_states = kinetics::max_states + 1;

template <class Scalar>
using States = std::array<Scalar, max_solve_states>;
using StatesJacobian = numerics::SmallLu<max_solve_states>::Matrix;

/// Accepted steps with slopes; cubic between them.
template <class Scalar>
struct Path {
  std::vector<double> time;
  std::vector<States<Scalar>> state, slope;

  /// State k at t, which lies within a step.
  [[nodiscard]] Scalar within(double t, std::size_t k, std::size_t step) const {
    auto const w = numerics::hermite_weights(time[step], time[step + 1], t);
    return w.y0 * state[step][k] + w.f0 * slope[step][k] + w.y1 * state[step + 1][k] +
           w.f1 * slope[step + 1][k];
  }
};

struct SolveControl {
  double relative = 1e-6;
  double absolute = 1e-9;
  std::size_t max_steps = 20000;
};

namespace detail {

template <std::size_t N>
void solve_each(numerics::SmallLu<max_solve_states> const& lu, std::size_t n,
                States<Dual<N>>& rhs) {
  // The value and each derivative are a right-hand side of their own.
  for (std::size_t d = 0; d <= N; ++d) {
    std::array<double, max_solve_states> x{};
    for (std::size_t i = 0; i < n; ++i) x[i] = d == N ? rhs[i].value : rhs[i].derivative[d];
    x = lu.solve(x);
    for (std::size_t i = 0; i < n; ++i) (d == N ? rhs[i].value : rhs[i].derivative[d]) = x[i];
  }
}

inline void solve_each(numerics::SmallLu<max_solve_states> const& lu, std::size_t /*n*/,
                       States<double>& rhs) {
  rhs = lu.solve(rhs);
}

}  // namespace detail

/// @param system has slopes(t, Scalar const* y, Scalar* f) and
///   linearise(t, double const* y, StatesJacobian& J, double* f_t)
/// @param stops ascending; steps land on each, the last is the end [s]
/// @param done called with (values y) after each step; true ends the solve
/// @throws SolverError when no step can be made or a state stops being finite
template <class Scalar, class System, class Done>
Path<Scalar> solve_with_sensitivities(System const& system, std::span<Scalar const> y0, double t0,
                                      std::vector<double> const& stops, SolveControl const& control,
                                      Done const& done) {
  auto const& tab = numerics::ros34pw2;
  auto const n = y0.size();
  Path<Scalar> path;
  States<Scalar> y{}, f{}, trial{}, f_new{};
  std::copy(y0.begin(), y0.end(), y.begin());
  double t = t0;
  system.slopes(t, y.data(), f.data());
  path.time.push_back(t);
  path.state.push_back(y);
  path.slope.push_back(f);
  double const span = stops.back() - t0;
  double step = 1e-3 * span;
  std::size_t steps = 0;
  std::array<States<Scalar>, 4> K;
  for (double const stop : stops) {
    while (t < stop) {
      std::array<double, max_solve_states> y_value{}, f_t{};
      for (std::size_t i = 0; i < n; ++i) y_value[i] = value_of(y[i]);
      StatesJacobian J{};
      system.linearise(t, y_value.data(), J, f_t.data());
      while (true) {
        if (++steps > control.max_steps) throw SolverError("too many steps", t);
        bool const lands = t + step * (1.0 + 1e-9) >= stop;
        double const h = lands ? stop - t : step;
        numerics::SmallLu<max_solve_states> lu;
        double norm = HUGE_VAL;
        if (lu.factorise(1.0 / (tab.gamma * h), J, n)) {
          for (std::size_t s = 0; s < 4; ++s) {
            auto& k = K[s];
            if (s == 0) {
              k = f;
            } else {
              States<Scalar> at = y;
              for (std::size_t j = 0; j < s; ++j) {
                for (std::size_t i = 0; i < n; ++i) at[i] += tab.A[s][j] * K[j][i];
              }
              system.slopes(t + tab.a[s] * h, at.data(), k.data());
            }
            for (std::size_t i = 0; i < n; ++i) {
              for (std::size_t j = 0; j < s; ++j) k[i] += (tab.C[s][j] / h) * K[j][i];
              k[i] += tab.g[s] * h * f_t[i];
            }
            detail::solve_each(lu, n, k);
          }
          trial = y;
          norm = 0.0;
          for (std::size_t i = 0; i < n; ++i) {
            double error = 0.0;
            for (std::size_t s = 0; s < 4; ++s) {
              trial[i] += tab.m[s] * K[s][i];
              error += tab.e[s] * value_of(K[s][i]);
            }
            double const scale = control.absolute + control.relative * std::abs(value_of(trial[i]));
            norm = std::max(norm, std::abs(error) / scale);
            if (!std::isfinite(value_of(trial[i]))) norm = HUGE_VAL;
          }
        }
        double const factor =
            std::isfinite(norm) ? std::clamp(0.9 * std::pow(norm, -1.0 / 3.0), 0.2, 4.0) : 0.2;
        // A corner of the law (alpha reaching 1 at an order below 1) is passed in tiny steps.
        if (norm <= 1.0 || (std::isfinite(norm) && h <= 1e-9 * span)) {
          t = lands ? stop : t + h;
          y = trial;
          // A step cut short to land says little: keep the longer proposal.
          step = lands && factor > 1.0 ? std::max(step, h * factor) : h * factor;
          break;
        }
        step = h * factor;
        if (!(step > 1e-13 * span)) throw SolverError("no further step could be made", t);
      }
      system.slopes(t, y.data(), f_new.data());
      f = f_new;
      path.time.push_back(t);
      path.state.push_back(y);
      path.slope.push_back(f);
      if (done(y)) return path;
    }
  }
  return path;
}

}  // namespace cure::fit
