#pragma once
/// What a solve with sensitivities leaves behind: accepted steps with slopes, and a polynomial
/// between them.

#include <array>
#include <cstddef>
#include <vector>

#include "cure/kinetics/cure_rate.hpp"
#include "cure/numerics/hermite.hpp"
#include "cure/numerics/small_lu.hpp"
#include "cure/scalar.hpp"

namespace cure::fit {

inline constexpr std::size_t max_solve_states = kinetics::max_states + 1;

template <class Scalar>
using States = std::array<Scalar, max_solve_states>;
using StatesJacobian = numerics::SmallLu<max_solve_states>::Matrix;

struct SolveControl {
  double relative = 1e-6;
  double absolute = 1e-9;
  std::size_t max_steps = 20000;
};

template <class Scalar>
struct Path {
  std::vector<double> time;
  std::vector<States<Scalar>> state, slope;
  std::vector<States<Scalar>> bend;  ///< of the step that ends here: what a cubic lacks

  void append(double t, States<Scalar> const& y, States<Scalar> const& f, States<Scalar> const& b) {
    time.push_back(t);
    state.push_back(y);
    slope.push_back(f);
    bend.push_back(b);
  }

  /// State k at t, which lies within a step: a cubic through both ends, and s^2 (1-s)^2 times the
  /// bend, s from 0 to 1 along the step.
  [[nodiscard]] Scalar within(double t, std::size_t k, std::size_t step) const {
    auto const w = numerics::hermite_weights(time[step], time[step + 1], t);
    double const s = (t - time[step]) / (time[step + 1] - time[step]);
    double const bump = s * (1.0 - s);
    return w.y0 * state[step][k] + w.f0 * slope[step][k] + w.y1 * state[step + 1][k] +
           w.f1 * slope[step + 1][k] + (bump * bump) * bend[step + 1][k];
  }
};

}  // namespace cure::fit
