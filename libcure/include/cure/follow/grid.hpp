#pragma once
/// Times at which rows of a followed job know their wall, and what they have between them.

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "cure/numerics/maps.hpp"

namespace cure::follow {

using numerics::RowMatrix;

/// Times to know the wall at [s]: dense after it is pressed on, then one in a hundred of the time
/// since. @param held from when to when it is held [s], @param end the last one wanted [s]
inline Eigen::VectorXd time_grid(std::pair<double, double> const& held, double end) {
  double const last = std::min(end, held.second);
  std::vector<double> t;
  auto const before = std::max(2, static_cast<int>(held.first / 60.0) + 1);
  for (int i = 0; i < before; ++i) t.push_back(held.first * i / (before - 1));
  auto const after = [&](double since) {
    bool const inside = since < last - held.first;
    if (inside) t.push_back(held.first + since);
    return inside;
  };
  for (double const since : {1.0, 5.0, 10.0}) after(since);
  for (double since = 20.0; since < 2000.0 && after(since);) since += 20.0;
  for (double since = 2000.0; after(since);) since *= 1.01;
  t.push_back(last);
  std::sort(t.begin(), t.end());
  t.erase(std::unique(t.begin(), t.end()), t.end());
  return numerics::vector_map(t);
}

/// A time between those of a grid: `share` of the way from one to the next; at the ends beyond.
struct Spot {
  Eigen::Index at = 0;
  double share = 0.0;

  template <class Trace>
  [[nodiscard]] double of(Trace const& trace) const {
    return share == 0.0 ? trace(at) : trace(at) + share * (trace(at + 1) - trace(at));
  }
};

/// Walks along a grid with times that rise.
class Walk {
 public:
  explicit Walk(Eigen::VectorXd const& grid) : grid_(&grid) {}

  Spot to(double t) {
    auto const& g = *grid_;
    if (t <= g(0)) return {};
    if (t >= g(g.size() - 1)) return {g.size() - 1, 0.0};
    while (g(i_ + 1) <= t) ++i_;
    return {i_, (t - g(i_)) / (g(i_ + 1) - g(i_))};
  }

 private:
  Eigen::VectorXd const* grid_;
  Eigen::Index i_ = 0;
};

}  // namespace cure::follow
