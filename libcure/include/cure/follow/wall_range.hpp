#pragma once
/// What the wall at the probe may show before any reading counts, of rows with what is not known.

#include <vector>

#include "cure/follow/weighted.hpp"

namespace cure::follow {

class WallRange {
 public:
  /// @param grid [s], @param traces of rows there [K]; a row that failed is NaN
  WallRange(Eigen::VectorXd const& grid, RowMatrix const& traces) : grid_(grid), traces_(traces) {}

  [[nodiscard]] Eigen::Index rows() const { return traces_.rows(); }
  [[nodiscard]] Eigen::VectorXd const& grid() const { return grid_; }

  /// Temperatures of the rows at a spot of the grid [K].
  [[nodiscard]] Eigen::VectorXd at(Spot const& spot) const {
    Eigen::VectorXd T = traces_.col(spot.at);
    if (spot.share > 0.0) T += spot.share * (traces_.col(spot.at + 1) - T);
    return T;
  }

  /// Temperatures of a row at times that rise [K].
  [[nodiscard]] std::vector<double> row(Eigen::Index i, std::vector<double> const& times) const {
    Walk walk(grid_);
    std::vector<double> T;
    for (double const t : times) T.push_back(walk.to(t).of(traces_.row(i)));
    return T;
  }

 private:
  Eigen::VectorXd const& grid_;
  // By time: what is asked for at one time stands together.
  Eigen::MatrixXd traces_;
};

}  // namespace cure::follow
