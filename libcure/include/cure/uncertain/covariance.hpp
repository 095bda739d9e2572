#pragma once
/// Draws x = mean + L z from standard normal numbers z, L L^T being the covariance.

#include <Eigen/Cholesky>
#include <optional>

#include "cure/arithmetic.hpp"

namespace cure::uncertain {

/// How far below zero an eigenvalue of the correlations may lie and count as zero: numbers in a
/// file are rounded.
inline constexpr double semi_definite_within = 1e-8;

/// Lower triangular L with L L^T = covariance, by Cholesky; nothing for a matrix that is not
/// positive semi-definite. Unknowns have all sorts of units, so the factor is taken of their
/// correlations; where those are only semi-definite round-off is kept off the diagonal's zeros.
/// Triangular, so that the first of the parts of a blend move by the first normal number, and so
/// on.
/// @param covariance symmetric, its diagonal not below 0
inline std::optional<Eigen::MatrixXd> covariance_factor(
    Eigen::Ref<Eigen::MatrixXd const> const& covariance) {
  Eigen::VectorXd const scale = covariance.diagonal().cwiseMax(0.0).cwiseSqrt();
  for (Eigen::Index i = 0; i < scale.size(); ++i) {
    // What does not vary does not vary with anything.
    if (scale(i) == 0.0 && !covariance.row(i).isZero(0.0)) return std::nullopt;
  }
  Eigen::VectorXd const by = scale.unaryExpr([](double s) { return s > 0.0 ? 1.0 / s : 1.0; });
  Eigen::MatrixXd correlation = by.asDiagonal() * covariance * by.asDiagonal();
  for (double const slack : {0.0, 1e-12, 1e-9, semi_definite_within}) {
    correlation.diagonal().array() += slack;
    Eigen::LLT<Eigen::MatrixXd> const cholesky(correlation);
    if (cholesky.info() != Eigen::Success) continue;
    return scale.asDiagonal() * Eigen::MatrixXd(cholesky.matrixL());
  }
  return std::nullopt;
}

}  // namespace cure::uncertain
