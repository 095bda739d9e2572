#pragma once
/// Covariance of fitted constants: the white noise of each record, as large as what its fitted
/// rates leave, carried through baseline, heat and degree of cure to the constants to first order,
/// as it moves neighbouring points together; and the stated errors of gel times. What the law
/// misses, lags of the instrument, drifts and masses are not in it.

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <cstddef>
#include <vector>

#include "cure/fit/residuals.hpp"
#include "cure/numerics/maps.hpp"

namespace cure::fit::detail {

/// What a noise of variance 1 in each point of a run's heat flow over its total heat does to J'r,
/// squared: the adjoint of baseline, normalisation and integration.
/// @param J rows of the run's residuals (2 points x parameters)
inline Eigen::MatrixXd noise_in_scores(FitRun const& run, Eigen::Ref<Eigen::MatrixXd const> J) {
  auto const n = numerics::index(run.time.size());
  Eigen::VectorXd step = Eigen::VectorXd::Zero(n + 1);  // to the point before it; 0 at both ends
  for (Eigen::Index i = 1; i < n; ++i) {
    auto const k = static_cast<std::size_t>(i);
    step(i) = run.time[k] - run.time[k - 1];
  }
  Eigen::Map<Eigen::VectorXd const> const rate(run.rate.data(), n), alpha(run.alpha.data(), n);
  Eigen::MatrixXd c(n, J.cols());
  for (Eigen::Index k = 0; k < J.cols(); ++k) {
    Eigen::VectorXd const u = run.rate_weight / run.peak * J.col(k).head(n);
    Eigen::VectorXd const v = run.alpha_weight * J.col(k).tail(n);
    double const by_heat = run.own_heat ? u.dot(rate) + v.dot(alpha) : 0.0;
    double later = 0.0, next = 0.0;  // sums of v from this point on, and from the next
    for (Eigen::Index i = n - 1; i >= 0; --i) {
      later = next + v(i);
      c(i, k) = u(i) + 0.5 * (step(i) * later + step(i + 1) * next) -
                by_heat * 0.5 * (step(i) + step(i + 1));
      next = later;
    }
  }
  Eigen::MatrixXd const drawn = c;
  auto const& basis = run.baseline.basis();
  for (std::size_t side = 0; side < 2; ++side) {
    auto const [mean, slope] = run.baseline.functional(side);
    for (std::size_t part = 0; part < 2; ++part) {
      Eigen::RowVectorXd sum = Eigen::RowVectorXd::Zero(J.cols());
      for (Eigen::Index i = 0; i < n; ++i) {
        sum += basis[static_cast<std::size_t>(i)][2 * side + part] * drawn.row(i);
      }
      auto const& weights = part == 0 ? mean : slope;
      c -= Eigen::Map<Eigen::VectorXd const>(weights.data(), n) * sum;
    }
  }
  return c.transpose() * c;
}

/// Covariance of the constants at the least cost.
inline Eigen::MatrixXd covariance_of(Problem const& p, std::vector<double> const& x) {
  auto const count = numerics::index(p.residuals()), free = numerics::index(x.size());
  std::vector<double> r(p.residuals());
  numerics::RowMatrix J(count, free);
  evaluate(p, x, r, {J.data(), r.size() * x.size()});
  Eigen::MatrixXd noise = Eigen::MatrixXd::Zero(free, free);
  Eigen::Index at = 0;
  for (auto const& run : p.runs) {
    auto const n = numerics::index(run.time.size());
    double const scale = run.peak / run.rate_weight;
    double const variance =
        scale * scale *
        Eigen::Map<Eigen::VectorXd const>(&r[static_cast<std::size_t>(at)], n).squaredNorm() /
        static_cast<double>(n);
    noise += variance * noise_in_scores(run, J.middleRows(at, 2 * n));
    at += 2 * n;
  }
  noise += J.bottomRows(count - at).transpose() * J.bottomRows(count - at);
  Eigen::MatrixXd const normal = J.transpose() * J;
  Eigen::VectorXd const by = normal.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
  Eigen::MatrixXd const scaled = by.asDiagonal() * normal * by.asDiagonal();
  Eigen::MatrixXd const inverse = by.asDiagonal() *
                                  scaled.ldlt().solve(Eigen::MatrixXd::Identity(free, free)) *
                                  by.asDiagonal();
  return inverse * noise * inverse.transpose();
}

}  // namespace cure::fit::detail
