#pragma once
/// Weighted rows that stand for what is known with the readings, by importance sampling.
///
/// All rows count against the mixture of what they were drawn from (the balance heuristic: E.
/// Veach, L.J. Guibas, SIGGRAPH 95, 419, 1995; A. Owen, Y. Zhou, J. Am. Stat. Assoc. 95, 135, 2000;
/// both from memory). While too few count, the normal distribution is fitted to the weighted rows
/// and as many are drawn again, at most three times.

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <utility>
#include <vector>

#include "cure/follow/fit.hpp"
#include "cure/follow/weighted.hpp"
#include "cure/uncertain/normal.hpp"
#include "cure/uncertain/sobol.hpp"

namespace cure::follow {

/// Standard normal rows of scrambled Sobol' points.
inline RowMatrix normal_rows(Eigen::Index columns, Eigen::Index rows, std::uint64_t seed) {
  return uncertain::unit_points(static_cast<std::size_t>(columns), static_cast<std::size_t>(rows),
                                seed)
      .unaryExpr(&uncertain::normal_quantile);
}

namespace detail {

/// A normal distribution that rows are drawn from.
struct Proposal {
  Eigen::VectorXd mean;
  Eigen::MatrixXd factor;  ///< L with L L^T the covariance

  /// Logarithm of its density at rows.
  [[nodiscard]] Eigen::VectorXd log_density(RowMatrix const& x) const {
    auto const L = factor.triangularView<Eigen::Lower>();
    Eigen::MatrixXd const u =
        L.solve(Eigen::MatrixXd((x.rowwise() - mean.transpose()).transpose()));
    double const constant =
        factor.diagonal().array().log().sum() +
        0.5 * std::log(2.0 * std::numbers::pi) * static_cast<double>(mean.size());
    return (-0.5 * u.colwise().squaredNorm().transpose()).array() - constant;
  }
};

inline Eigen::MatrixXd stacked(Eigen::MatrixXd const& a, Eigen::MatrixXd const& b) {
  Eigen::MatrixXd both(a.rows() + b.rows(), a.cols());
  both << a, b;
  return both;
}

/// Weights of rows drawn from a mixture in equal parts. @param log_likelihood of the rows
inline Weighted weighted(RowMatrix x, std::vector<Proposal> const& mixture,
                         Eigen::VectorXd const& log_likelihood) {
  std::vector<Eigen::VectorXd> parts;
  for (auto const& p : mixture) parts.push_back(p.log_density(x));
  Eigen::VectorXd log_weight = log_likelihood + parts.front();  // the first is that beforehand
  for (Eigen::Index i = 0; i < x.rows(); ++i) {
    double most = parts.front()(i), sum = 0.0;
    for (auto const& p : parts) most = std::max(most, p(i));
    for (auto const& p : parts) sum += std::exp(p(i) - most);
    log_weight(i) -= most + std::log(sum);
  }
  Eigen::VectorXd weight = (log_weight.array() - log_weight.maxCoeff()).exp();
  weight /= weight.sum();
  return {std::move(x), weight, 1.0 / weight.squaredNorm()};
}

}  // namespace detail

/// Rows about the most likely values and before the readings, with their traces.
/// @param prior as they may be before the readings
/// @param found with its covariance
/// @param least effective rows that are enough
inline std::pair<Weighted, RowMatrix> sample(Known const& known, Data const& data,
                                             Rows const& prior, Fit const& found,
                                             std::uint64_t seed, double least) {
  Misfit const misfit(known.job, data, known.grid, known.medium, clock_sd);
  auto const log_likelihood = [&](RowMatrix const& x, RowMatrix const& traces) {
    auto const offset = known.job.fill_offset(x);
    Eigen::VectorXd log_p(x.rows());
    for (Eigen::Index i = 0; i < x.rows(); ++i) {
      numerics::may_stop(10 * static_cast<std::size_t>(data.size()));
      log_p(i) = -misfit.cost(traces.row(i), x.row(i), offset(i));
    }
    return log_p;
  };
  auto const n = prior.x.rows(), d = prior.x.cols();
  auto x = prior.x, traces = prior.traces;
  Eigen::VectorXd log_p = log_likelihood(x, traces), mean = found.x;
  Eigen::MatrixXd covariance =
      1.2 * 1.2 * found.covariance;  // wider than Laplace's: tails are long
  std::vector<detail::Proposal> mixture{
      {Eigen::VectorXd::Zero(d), Eigen::MatrixXd::Identity(d, d)}};
  for (std::uint64_t turn = 0;; ++turn) {
    mixture.push_back({mean, covariance.llt().matrixL()});
    auto const& L = mixture.back().factor;
    RowMatrix const points = normal_rows(d, n, seed + 1 + turn) * L.transpose();
    // What is that far out has no weight to speak of.
    RowMatrix const fresh = (points.rowwise() + mean.transpose()).cwiseMax(-6.0).cwiseMin(6.0);
    RowMatrix const more = known.job.traces(fresh, known.grid);
    log_p = detail::stacked(log_p, log_likelihood(fresh, more));
    x = detail::stacked(x, fresh);
    traces = detail::stacked(traces, more);
    auto rows = detail::weighted(x, mixture, log_p);
    if (rows.effective >= least || turn == 2) return {std::move(rows), std::move(traces)};
    mean = x.transpose() * rows.weight;
    Eigen::MatrixXd const off = x.rowwise() - mean.transpose();
    covariance = off.transpose() * rows.weight.asDiagonal() * off + 0.05 * found.covariance;
  }
}

}  // namespace cure::follow
