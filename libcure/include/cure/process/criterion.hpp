#pragma once
/// What the crew wants to know of a stage, as a number of each resin point that turns from negative
/// to not negative, and which point decides.

#include <algorithm>
#include <cstddef>
#include <functional>
#include <limits>
#include <span>
#include <utility>
#include <vector>

#include "cure/numerics/events.hpp"
#include "cure/process/history.hpp"

namespace cure::process {

/// A resin point's distance from a criterion, and the criterion of the whole part.
struct Criterion {
  /// Negative before, not negative after [-], at T [K] and alpha.
  std::function<double(double T, double alpha)> point;
  /// The same of many points in one call.
  std::function<void(std::span<PointValues const>, std::span<double> distance)> points;
  bool every_point = false;  ///< all points must have passed; else the first one decides
  /// Of cure alone, which never falls: once met it stays so.
  bool lasting = false;
  /// Where it is sooner said: no point that is warmer and less cured is farther on than this.
  std::function<double(double T, double alpha)> at_most = {};

  /// @param distance of a point, as above
  template <class Distance>
  Criterion(Distance const& distance, bool every, bool stays = false)
      : point(distance),
        points([distance](std::span<PointValues const> at, std::span<double> g) {
          for (std::size_t p = 0; p < at.size(); ++p) g[p] = distance(at[p].T, at[p].alpha);
        }),
        every_point(every),
        lasting(stays) {}

  /// Distance of the deciding one of some points, and its index.
  /// @param at PointValues of a point by its index
  template <class At>
  [[nodiscard]] std::pair<double, std::size_t> decide(std::size_t count, At const& at) const {
    std::pair<double, std::size_t> decided;
    for (std::size_t p = 0; p < count; ++p) {
      auto const [T, alpha] = at(p);
      take(point(T, alpha), p, decided);
    }
    return decided;
  }

  /// Memory for the points of a stage.
  struct Points {
    std::vector<PointValues> values = {};
    std::vector<double> distance = {};
  };

  /// The same of all resin points of a stage.
  [[nodiscard]] std::pair<double, std::size_t> decide(StageHistory const& stage,
                                                      std::span<double const> state,
                                                      Points& memory) const {
    auto& values = memory.values;
    auto& g = memory.distance;
    values.clear();
    stage.each_point([&](PointCells j) { values.push_back(stage.values_of(state, j)); });
    g.resize(values.size());
    points(values, g);
    std::pair<double, std::size_t> decided;
    for (std::size_t p = 0; p < g.size(); ++p) take(g[p], p, decided);
    return decided;
  }
  [[nodiscard]] std::pair<double, std::size_t> decide(StageHistory const& stage,
                                                      std::span<double const> state) const {
    Points memory;
    return decide(stage, state, memory);
  }

  /// Distance of the deciding one, by time from the stage's start [s].
  [[nodiscard]] numerics::EventInTime on(StageHistory const& stage) const {
    return [this, &stage, state = std::vector<double>(stage.path.width()),
            memory = Points()](double t) mutable {
      stage.resin_at(t, state);
      return decide(stage, state, memory).first;
    };
  }

  /// Whether it is met, by time from the stage's start [s]. Where every point must have passed, the
  /// one that had not when it was asked last is asked first.
  [[nodiscard]] numerics::TurnInTime met_on(StageHistory const& stage) const {
    return [this, &stage, state = std::vector<double>(stage.path.width()), memory = Points(),
            last = std::size_t(0)](double t) mutable {
      stage.resin_at(t, state);
      if (every_point) {
        auto const v = stage.values_of(state, stage.cells_of(last));
        if (point(v.T, v.alpha) < 0.0) return false;
      } else if (far_off(stage, state)) {
        return false;
      }
      auto const decided = decide(stage, state, memory);
      last = decided.second;
      return decided.first >= 0.0;
    };
  }

 private:
  /// Whether not even a point as cold as the coldest and as far on as the farthest would meet it.
  [[nodiscard]] bool far_off(StageHistory const& stage, std::span<double const> state) const {
    if (!at_most) return false;
    double cold = std::numeric_limits<double>::infinity(), cure = 0.0;
    stage.each_point([&](PointCells j) {
      cold = std::min(cold, stage.temperature_of(state, j));
      cure = std::max(cure, stage.alpha_of(state, j));
    });
    return at_most(cold, cure) < -1e-9;  // less than round-off brings
  }

  void take(double g, std::size_t p, std::pair<double, std::size_t>& decided) const {
    if (p == 0 || (every_point ? g < decided.first : g > decided.first)) decided = {g, p};
  }
};

}  // namespace cure::process
