#pragma once
/// The most likely values of what is not known, with the readings: from the best of many rows by
/// least squares, sensitivities by central differences of rows that are run together.

#include <Eigen/Cholesky>
#include <algorithm>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

#include "cure/follow/likelihood.hpp"
#include "cure/numerics/least_squares.hpp"

namespace cure::follow {

/// A job and the times that its rows are known at.
struct Known {
  Job const& job;
  Eigen::VectorXd grid;    ///< [s]
  Eigen::VectorXd medium;  ///< the air, then the fill [K]
};

struct Fit {
  Eigen::VectorXd x;            ///< standard normal: theta, then the nuisances
  Eigen::MatrixXd covariance;   ///< of x, by Laplace's method; only where it was asked for
  Eigen::VectorXd z;            ///< residuals over their standard deviation
  double cost = 0.0;            ///< the readings' part of -ln p
  std::optional<Off> off = {};  ///< how the probe has lost its contact, of the ways tried

  /// -ln p. @param free takes the clock as if nothing were known of it
  [[nodiscard]] double total(bool free = false) const {
    return cost + 0.5 * (free ? x.head(x.size() - 1) : x.head(x.size())).squaredNorm();
  }
};

/// What is tried to explain the readings with.
struct Ways {
  double clock_sd = follow::clock_sd;  ///< standard deviation of the logger's clock [s]
  std::vector<double> clocks = {};     ///< [s] of which each row is tried; none: the rows' own
  std::vector<std::optional<Off>> offs = {std::nullopt};  ///< contacts lost, each tried
  bool covariance = false;                                ///< wanted
};

namespace detail {

inline constexpr double furthest = 4.5;  ///< standard deviations that an unknown may move
inline constexpr double farthest_start = 4.0;
inline constexpr double difference = 0.2;  ///< of theta: well above the solver's tolerance

/// The best start: least -ln p of all rows, below `most`.
struct Start {
  double total = std::numeric_limits<double>::infinity();
  Eigen::VectorXd x;
};

inline void better_start(Misfit const& misfit, Rows const& rows, Eigen::VectorXd const& fill_offset,
                         std::optional<double> clock, Start& best) {
  Eigen::VectorXd x(rows.x.cols());
  for (Eigen::Index i = 0; i < rows.x.rows(); ++i) {
    numerics::may_stop(10 * static_cast<std::size_t>(misfit.data().size()));
    x = rows.x.row(i).transpose();
    if (clock) x(x.size() - 1) = *clock / misfit.clock_sd();
    double const prior = 0.5 * x.squaredNorm();
    // Most rows are far off, which their first readings tell.
    double const total =
        prior + misfit.cost(rows.traces.row(i), x, fill_offset(i), best.total - prior);
    if (total < best.total) best = {total, x};
  }
}

/// Least squares of one way of explaining the readings.
class Search {
 public:
  Search(Known const& known, Misfit const& misfit, Eigen::VectorXd const& grid)
      : known_(known), misfit_(misfit), grid_(grid) {}

  Fit run(Eigen::VectorXd const& start, bool covariance) {
    auto const found = numerics::least_squares(
        [this](Eigen::VectorXd const& x) { return misfit_.residuals(trace(x), x); },
        [this](Eigen::VectorXd const& x) { return jacobian(x); },
        start.cwiseMax(-farthest_start).cwiseMin(farthest_start), -furthest, furthest);
    Fit fit{found.x, {}, misfit_.z(trace(found.x), found.x), 0.0, misfit_.off()};
    fit.cost = found.cost - 0.5 * found.x.squaredNorm();
    if (covariance) {
      Eigen::MatrixXd const J = found.jacobian_at_x ? found.jacobian : jacobian(found.x);
      Eigen::MatrixXd const JtJ = J.transpose() * J;
      fit.covariance = JtJ.llt().solve(Eigen::MatrixXd::Identity(J.cols(), J.cols()));
    }
    return fit;
  }

 private:
  Eigen::VectorXd const& trace(Eigen::VectorXd const& x) {
    if (theta_.size() == 0 || x.head(unknowns()) != theta_) {
      theta_ = x.head(unknowns());
      trace_ = known_.job.traces(theta_.transpose(), grid_).row(0).transpose();
    }
    return trace_;
  }

  Eigen::MatrixXd jacobian(Eigen::VectorXd const& x) {
    auto const k = unknowns();
    RowMatrix theta = x.head(k).transpose().replicate(2 * k, 1);
    theta.topRows(k).diagonal().array() += difference;
    theta.bottomRows(k).diagonal().array() -= difference;
    RowMatrix const moved = known_.job.traces(theta, grid_);
    Eigen::VectorXd const here = trace(x);
    Eigen::MatrixXd J(misfit_.data().size() + x.size(), x.size());
    for (Eigen::Index j = 0; j < x.size(); ++j) {
      Eigen::VectorXd up = x, down = x;
      up(j) += difference;
      down(j) -= difference;
      auto const residuals = [&](Eigen::Index row, Eigen::VectorXd const& at) {
        return j < k ? misfit_.residuals(moved.row(row).transpose(), at)
                     : misfit_.residuals(here, at);
      };
      J.col(j) = (residuals(j, up) - residuals(k + j, down)) / (2.0 * difference);
    }
    return J;
  }

  [[nodiscard]] Eigen::Index unknowns() const { return known_.job.unknowns(); }

  Known const& known_;
  Misfit const& misfit_;
  Eigen::VectorXd const& grid_;
  Eigen::VectorXd theta_, trace_;
};

}  // namespace detail

/// @param rows to start from, whose traces are of the grid
inline Fit fit(Known const& known, Data const& data, Rows const& rows, Ways const& ways = {}) {
  // What comes after the readings, as the clock may have it, costs time and tells nothing here.
  constexpr double reach = 4.0;
  double const last = data.t(data.size() - 1) + reach * ways.clock_sd;
  auto const after = std::lower_bound(known.grid.begin(), known.grid.end(), last);
  auto const n = std::min<Eigen::Index>(after - known.grid.begin() + 1, known.grid.size());
  Eigen::VectorXd const grid = known.grid.head(n);
  Eigen::VectorXd const fill_offset = known.job.fill_offset(rows.x);
  detail::Start best;
  std::optional<Misfit> of_best;
  for (auto const& off : ways.offs) {
    Misfit const misfit(known.job, data, grid, known.medium, ways.clock_sd, off);
    double const before = best.total;
    if (ways.clocks.empty()) detail::better_start(misfit, rows, fill_offset, {}, best);
    for (double const clock : ways.clocks) {
      detail::better_start(misfit, rows, fill_offset, clock, best);
    }
    if (best.total < before) of_best.emplace(misfit);
  }
  return detail::Search(known, *of_best, grid).run(best.x, ways.covariance);
}

/// Least -ln p of all rows; any number above `most` where it is above that.
inline double least_total(Known const& known, Data const& data, Rows const& rows, double most) {
  Misfit const misfit(known.job, data, known.grid, known.medium, clock_sd);
  detail::Start best{most, {}};
  detail::better_start(misfit, rows, known.job.fill_offset(rows.x), {}, best);
  return best.total;
}

}  // namespace cure::follow
