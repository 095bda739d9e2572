#pragma once
/// Samples that need no simulation.
///
/// A bound is an ordered sample, which only samples near it can change. A quadratic in the normal
/// scores of the sample points, fitted to the first samples, foretells the others. What it is off
/// by at each of its own when that one is left out (D.M. Allen, Technometrics 16 (1974) 125; from
/// memory) says which of the others may lie on either side of a bound: these are simulated, the
/// rest count where they are foretold. What is foretold badly is simulated throughout.

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/numerics/maps.hpp"

#if CURE_INSIDE
#include <Eigen/Cholesky>

#include "cure/uncertain/normal.hpp"
#endif

namespace cure::uncertain {

/// First samples that a term of the quadratic takes, at least; with fewer nothing is foretold.
inline constexpr double samples_a_term = 2.5;
/// How far beyond bounds samples are simulated, at least, over the root mean square of what the
/// first samples are off by, and over the farthest from the bounds that any of them is foretold on
/// the wrong side: this project's choice (tests/python/test_chart_sides.py).
inline constexpr double reach_over_off = 4.0, reach_over_farthest = 1.5;

/// How much farther is looked at first: what is simulated moves the bounds a little.
inline constexpr double first_slack = 1.1;

/// What samples will say, scaled as PartlySimulated does.
struct Foretold {
  Eigen::VectorXd all;       ///< of each sample
  Eigen::VectorXd left_out;  ///< of each of the first, from the others
};

/// From a coarser simulation of each, which is off by much the same for all of them.
/// @param coarse of each sample. @param first of the first ones, two at least
inline Foretold foretold_by(Eigen::VectorXd const& coarse, Eigen::VectorXd const& first) {
  auto const n = static_cast<double>(first.size());
  Eigen::VectorXd const off = first - coarse.head(first.size());
  double const mean = off.mean();
  return {coarse.array() + mean,
          coarse.head(first.size()).array() + (n * mean - off.array()) / (n - 1.0)};
}

/// A quadratic in the scores of the sample points, fitted to the first of the samples.
class Foreteller {
 public:
  /// @param points of all samples (samples, dimensions), inside the unit cube
  /// @param first how many are simulated
  CURE_FUNCTION Foreteller(Eigen::MatrixXd const& points, std::size_t first);

  /// @param values of the first samples, scaled
  /// @returns nothing where they tell nothing: too few, or one of them is not finite
  CURE_FUNCTION std::optional<Foretold> of(Eigen::VectorXd const& values) const;

 private:
  Eigen::MatrixXd terms_;   ///< (samples, terms)
  Eigen::MatrixXd factor_;  ///< upper triangle of their normal equations over the first
  Eigen::MatrixXd own_;     ///< (terms, first), orthonormal
  Eigen::VectorXd left_;    ///< 1 less the leverage of each of the first
};

#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION Foreteller::Foreteller(Eigen::MatrixXd const& points, std::size_t first) {
  auto const d = points.cols(), rows = numerics::index(first);
  auto const enough = [&](Eigen::Index terms) {
    return samples_a_term * static_cast<double>(terms) <= static_cast<double>(first);
  };
  auto const linear = 1 + d, quadratic = linear + d * (d + 1) / 2;
  if (!enough(linear)) return;
  Eigen::MatrixXd terms(points.rows(), enough(quadratic) ? quadratic : linear);
  terms.col(0).setOnes();
  terms.middleCols(1, d) = points.unaryExpr(&normal_quantile);
  if (terms.cols() > linear) {
    for (Eigen::Index i = 0, at = linear; i < d; ++i) {
      for (Eigen::Index j = i; j < d; ++j, ++at) {
        terms.col(at) = terms.col(1 + i).cwiseProduct(terms.col(1 + j));
      }
    }
  }
  // Scores are of order 1, so that products lose nothing that matters.
  Eigen::MatrixXd square = Eigen::MatrixXd::Zero(terms.cols(), terms.cols());
  square.selfadjointView<Eigen::Lower>().rankUpdate(terms.topRows(rows).transpose());
  Eigen::LLT<Eigen::MatrixXd> const factor(square);
  if (factor.info() != Eigen::Success) return;
  own_ = factor.matrixL().solve(terms.topRows(rows).transpose());
  left_ = 1.0 - own_.colwise().squaredNorm().transpose().array();
  if (!(left_.minCoeff() > 1e-6)) return;
  factor_ = factor.matrixU();
  terms_ = std::move(terms);
}

CURE_FUNCTION std::optional<Foretold> Foreteller::of(Eigen::VectorXd const& values) const {
  if (terms_.size() == 0 || !values.allFinite()) return std::nullopt;
  Eigen::VectorXd fitted = own_ * values;
  factor_.triangularView<Eigen::Upper>().solveInPlace(fitted);
  Foretold found{terms_ * fitted, {}};
  found.left_out = values - (values - found.all.head(values.size())).cwiseQuotient(left_);
  return found;
}
#endif

/// One quantity of all samples: as simulated, or as foretold.
class PartlySimulated {
 public:
  /// @param first values, of the first samples, which are simulated. @param most samples
  /// @param relative whether its logarithm is what inputs move evenly
  PartlySimulated(std::vector<double> first, std::size_t most, bool relative)
      : first_(first.size()), relative_(relative), simulated_(most, false), now_(std::move(first)) {
    std::fill_n(simulated_.begin(), first_, true);
    now_.resize(most, std::numeric_limits<double>::quiet_NaN());
  }

  /// Whether there is a number for each sample.
  [[nodiscard]] bool foretold() const { return foretold_.size() > 0; }

  /// The simulated ones of the first look, as foretellers take them.
  [[nodiscard]] Eigen::VectorXd scaled_first() const {
    Eigen::VectorXd first(numerics::index(first_));
    for (std::size_t i = 0; i < first_; ++i) first[numerics::index(i)] = scaled(now_[i]);
    return first;
  }
  [[nodiscard]] double scaled(double value) const { return relative_ ? std::log(value) : value; }

  /// Takes what is foretold of those that are not simulated.
  /// @param low,high bounds, between which a sample matters. @returns whether there is any
  bool foretell(std::optional<Foretold> found, double low, double high) {
    if (!found || !found->all.allFinite() || !found->left_out.allFinite()) return false;
    auto const first = scaled_first();
    reach_ = reach_over_off *
             std::sqrt((found->left_out - first).squaredNorm() / static_cast<double>(first_));
    foretold_ = std::move(found->all);
    for (std::size_t i = first_; i < now_.size(); ++i) {
      double const y = foretold_[numerics::index(i)];
      now_[i] = relative_ ? std::exp(y) : y;
    }
    low = scaled(low);
    high = scaled(high);
    for (Eigen::Index i = 0; i < first.size(); ++i) {
      double const here = first[i], there = found->left_out[i];
      double const wrong = there < low && here >= low     ? low - there
                           : there > high && here <= high ? there - high
                                                          : 0.0;
      reach_ = std::max(reach_, reach_over_farthest * wrong);
    }
    return true;
  }

  /// Of the first `count` samples those that have to be simulated, as they may lie between bounds.
  /// @param slack on how far beyond them is looked [-]
  [[nodiscard]] std::vector<std::size_t> missing(std::size_t count, double low, double high,
                                                 double slack) const {
    double const from = scaled(low) - slack * reach_, to = scaled(high) + slack * reach_;
    std::vector<std::size_t> rows;
    for (std::size_t i = first_; i < count; ++i) {
      if (simulated_[i]) continue;
      if (foretold()) {
        double const y = foretold_[numerics::index(i)];
        if (y < from || y > to) continue;
      }
      rows.push_back(i);
    }
    return rows;
  }

  /// A simulated sample. When one never happens, the others are not foretold any more.
  void put(std::size_t row, double value) {
    if (!std::isfinite(value)) foretold_.resize(0);
    now_[row] = value;
    simulated_[row] = true;
  }
  /// Each sample, those neither simulated nor foretold as NaN.
  [[nodiscard]] std::vector<double> const& now() const { return now_; }

 private:
  std::size_t first_;
  bool relative_;
  std::vector<bool> simulated_;
  std::vector<double> now_;
  Eigen::VectorXd foretold_;  ///< scaled; empty: nothing is
  double reach_ = 0.0;
};

}  // namespace cure::uncertain
