#pragma once
/// Nonlinear least squares between bounds: least of |r(x)|^2 / 2 over low <= x <= high.
///
/// Damped Gauss-Newton steps, (J^T J + lambda diag(J^T J)) p = -J^T r, over the unknowns that are
/// not held at a bound by the slope (D.W. Marquardt, SIAM J. Appl. Math. 11, 431, 1963); steps end
/// at the bounds. lambda follows how much of the promised decrease comes (H.B. Nielsen, report
/// IMM-REP-1999-05, Tech. Univ. Denmark, 1999; both from memory).

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <vector>

#include "cure/arithmetic.hpp"

namespace cure::numerics {

struct LeastSquaresLimits {
  double x_tolerance = 1e-4;         ///< of a step, over the norm of x
  double cost_tolerance = 1e-5;      ///< of a decrease, over the cost
  double gradient_tolerance = 1e-5;  ///< of the largest slope that is not held by a bound
  int most_jacobians = 40;
};

struct LeastSquares {
  Eigen::VectorXd x;
  double cost = 0.0;         ///< |r|^2 / 2
  Eigen::MatrixXd jacobian;  ///< the last one asked for, at `x` or a step before it
  bool jacobian_at_x = false;
};

namespace detail {

/// The damped step; 0 for what a bound holds.
inline Eigen::VectorXd damped_step(Eigen::MatrixXd const& JtJ, Eigen::VectorXd const& gradient,
                                   std::vector<Eigen::Index> const& free, double lambda) {
  Eigen::MatrixXd A = JtJ(free, free);
  A.diagonal() *= 1.0 + lambda;
  Eigen::VectorXd step = Eigen::VectorXd::Zero(gradient.size());
  step(free) = Eigen::VectorXd(A.ldlt().solve(-gradient(free)));
  return step;
}

}  // namespace detail

/// @param residuals (x) -> r, @param jacobian (x) -> dr/dx, may be by differences
template <class Residuals, class Jacobian>
LeastSquares least_squares(Residuals const& residuals, Jacobian const& jacobian,
                           Eigen::VectorXd const& start, double low, double high,
                           LeastSquaresLimits const& limits = {}) {
  LeastSquares found{start.cwiseMax(low).cwiseMin(high), 0.0, {}, false};
  auto& x = found.x;
  Eigen::VectorXd r = residuals(x);
  found.cost = 0.5 * r.squaredNorm();
  double lambda = 1e-2;
  for (int turn = 0; turn < limits.most_jacobians; ++turn) {
    found.jacobian = jacobian(x);
    found.jacobian_at_x = true;
    Eigen::VectorXd const gradient = found.jacobian.transpose() * r;
    Eigen::MatrixXd const JtJ = found.jacobian.transpose() * found.jacobian;
    std::vector<Eigen::Index> free;
    double steepest = 0.0;
    for (Eigen::Index i = 0; i < x.size(); ++i) {
      if ((x(i) <= low && gradient(i) > 0.0) || (x(i) >= high && gradient(i) < 0.0)) continue;
      free.push_back(i);
      steepest = std::max(steepest, std::abs(gradient(i)));
    }
    if (!(steepest > limits.gradient_tolerance)) return found;
    for (double growth = 2.0;; growth *= 2.0) {
      Eigen::VectorXd const tried =
          (x + detail::damped_step(JtJ, gradient, free, lambda)).cwiseMax(low).cwiseMin(high);
      Eigen::VectorXd const step = tried - x;
      if (!(step.norm() > limits.x_tolerance * (limits.x_tolerance + x.norm()))) return found;
      Eigen::VectorXd const r_tried = residuals(tried);
      double const cost = 0.5 * r_tried.squaredNorm(), decrease = found.cost - cost;
      double const promised = -gradient.dot(step) - 0.5 * step.dot(JtJ * step);
      if (!(decrease > 0.0)) {
        lambda *= growth;
        continue;
      }
      double const share = promised > 0.0 ? decrease / promised : 0.0;
      bool const little = decrease < limits.cost_tolerance * found.cost && share > 0.25;
      x = tried;
      r = r_tried;
      found.cost = cost;
      found.jacobian_at_x = false;
      if (little) return found;
      lambda *= std::max(1.0 / 3.0, 1.0 - std::pow(2.0 * std::min(share, 1.0) - 1.0, 3));
      break;
    }
  }
  return found;
}

}  // namespace cure::numerics
