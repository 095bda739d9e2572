#pragma once
/// Trial steps of y' = f(t, y) on dual numbers: an explicit one for where the equations are not
/// stiff, and a linearly implicit one for where they are.
///
/// Explicit: order 5(4) with a quartic between the ends (J.R. Dormand, P.J. Prince, J. Comput.
/// Appl. Math. 6, 19, 1980; quartic and stiffness test as in E. Hairer, S.P. Norsett, G. Wanner,
/// "Solving Ordinary Differential Equations I", 2nd ed., sec. II.6, and vol. II, sec. IV.2;
/// coefficients from memory, order checked in the tests). Its derivatives are those of the numbers
/// it computes, exactly.
/// Implicit: ROS34PW2 (numerics/tableau.hpp), of order 3 with any Jacobian, so that the plain
/// Jacobian of the values serves values and derivatives alike.
///
/// A system has slopes(t, Scalar const* y, Scalar* f) and
/// linearise(t, double const* y, StatesJacobian& J, double* f_t).

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "cure/fit/path.hpp"
#include "cure/numerics/tableau.hpp"

namespace cure::fit {

/// A step that has been tried.
template <class Scalar>
struct Trial {
  States<Scalar> y{}, f{};  ///< at its end
  States<Scalar> bend{};    ///< Path::bend
  double norm = HUGE_VAL;   ///< error over the tolerance; infinite when there is no step
  double stiffness = 0.0;   ///< step times the fastest rate of the equations, where it was measured
};

namespace detail {

/// Greatest error over its tolerance; infinite where a state is no number.
template <class Scalar>
double error_norm(States<double> const& error, States<Scalar> const& y, std::size_t n,
                  SolveControl const& control) {
  double norm = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    if (!std::isfinite(value_of(y[i]))) return HUGE_VAL;
    double const scale = control.absolute + control.relative * std::abs(value_of(y[i]));
    norm = std::max(norm, std::abs(error[i]) / scale);
  }
  return norm;
}

}  // namespace detail

template <class Scalar>
class ExplicitStep {
 public:
  static constexpr double order = 5.0;
  /// Trial::stiffness above which accuracy never needs a step, and stability (3.3) soon forbids it.
  static constexpr double stable = 2.0;

  template <class System>
  void attempt(System const& system, std::size_t n, double t, double h, States<Scalar> const& y,
               States<Scalar> const& f, SolveControl const& control, Trial<Scalar>& trial) {
    k_[0] = f;
    States<Scalar> at{};
    for (std::size_t s = 1; s < 7; ++s) {
      if (s == 6) before_last_ = at;
      for (std::size_t i = 0; i < n; ++i) {
        at[i] = y[i];
        for (std::size_t j = 0; j < s; ++j) {
          if (A[s - 1][j] != 0.0) at[i] += (h * A[s - 1][j]) * k_[j][i];
        }
      }
      system.slopes(t + a[s - 1] * h, at.data(), k_[s].data());
    }
    trial.y = at;
    trial.f = k_[6];
    States<double> error{};
    double fast = 0.0, apart = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      trial.bend[i] = Scalar(0.0);
      for (std::size_t s = 0; s < 7; ++s) {
        error[i] += h * e[s] * value_of(k_[s][i]);
        if (d[s] != 0.0) trial.bend[i] += (h * d[s]) * k_[s][i];
      }
      double const df = value_of(k_[6][i]) - value_of(k_[5][i]);
      double const dy = value_of(at[i]) - value_of(before_last_[i]);
      fast += df * df;
      apart += dy * dy;
    }
    trial.norm = detail::error_norm(error, at, n, control);
    trial.stiffness = apart > 0.0 ? h * std::sqrt(fast / apart) : 0.0;
  }

 private:
  static constexpr double a[6] = {0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0};
  static constexpr double A[6][6] = {
      {1.0 / 5.0},
      {3.0 / 40.0, 9.0 / 40.0},
      {44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0},
      {19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0},
      {9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0},
      {35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0}};
  static constexpr double e[7] = {71.0 / 57600.0,      0.0,          -71.0 / 16695.0, 71.0 / 1920.0,
                                  -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0};
  static constexpr double d[7] = {-12715105075.0 / 11282082432.0,  0.0,
                                  87487479700.0 / 32700410799.0,   -10690763975.0 / 1880347072.0,
                                  701980252875.0 / 199316789632.0, -1453857185.0 / 822651844.0,
                                  69997945.0 / 29380423.0};
  std::array<States<Scalar>, 7> k_{};
  States<Scalar> before_last_{};
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

template <class Scalar>
class ImplicitStep {
 public:
  static constexpr double order = 3.0;

  template <class System>
  void attempt(System const& system, std::size_t n, double t, double h, States<Scalar> const& y,
               States<Scalar> const& f, SolveControl const& control, Trial<Scalar>& trial) {
    auto const& tab = numerics::ros34pw2;
    std::array<double, max_solve_states> y_value{}, f_t{};
    for (std::size_t i = 0; i < n; ++i) y_value[i] = value_of(y[i]);
    StatesJacobian J{};
    system.linearise(t, y_value.data(), J, f_t.data());
    numerics::SmallLu<max_solve_states> lu;
    trial.norm = HUGE_VAL;
    trial.stiffness = 0.0;
    trial.bend = {};
    if (!lu.factorise(1.0 / (tab.gamma * h), J, n)) return;
    for (std::size_t s = 0; s < 4; ++s) {
      auto& k = k_[s];
      if (s == 0) {
        k = f;
      } else {
        States<Scalar> at = y;
        for (std::size_t j = 0; j < s; ++j) {
          for (std::size_t i = 0; i < n; ++i) at[i] += tab.A[s][j] * k_[j][i];
        }
        system.slopes(t + tab.a[s] * h, at.data(), k.data());
      }
      for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < s; ++j) k[i] += (tab.C[s][j] / h) * k_[j][i];
        k[i] += Scalar(tab.g[s] * h * f_t[i]);
      }
      detail::solve_each(lu, n, k);
    }
    trial.y = y;
    States<double> error{};
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t s = 0; s < 4; ++s) {
        trial.y[i] += tab.m[s] * k_[s][i];
        error[i] += tab.e[s] * value_of(k_[s][i]);
      }
    }
    trial.norm = detail::error_norm(error, trial.y, n, control);
    if (std::isfinite(trial.norm)) system.slopes(t + h, trial.y.data(), trial.f.data());
  }

 private:
  std::array<States<Scalar>, 4> k_{};
};

}  // namespace cure::fit
