#pragma once
/// Readings that cannot be those of the wall, as far as it is known before them: another unit, a
/// channel that is dead, a probe that is stuck, or has come off, and jumps. The limits are this
/// project's own choice, common practice without a source.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "cure/follow/screening.hpp"
#include "cure/follow/wall_range.hpp"
#include "cure/numerics/run_control.hpp"
#include "cure/units.hpp"

namespace cure::follow::detail {

inline constexpr double jump =
    2.0;  ///< off its neighbours, beyond noise and what the wall does [K]
inline constexpr std::size_t dead_readings = 3;
inline constexpr std::size_t stuck_readings = 5;
inline constexpr double stuck_time = 600.0, stuck_move = 1.5;  ///< [s]; the wall must move by [K]
inline constexpr std::size_t off_readings = 4;
inline constexpr double off_near = 4.0;   ///< from the medium [K]
inline constexpr double off_clear = 3.0;  ///< beyond any likely wall [K]

/// First and one past the last of each run of true.
inline std::vector<std::pair<std::size_t, std::size_t>> runs(std::vector<bool> const& marked) {
  std::vector<std::pair<std::size_t, std::size_t>> found;
  for (std::size_t i = 0; i < marked.size(); ++i) {
    if (!marked[i]) continue;
    std::size_t const begin = i;
    while (i < marked.size() && marked[i]) ++i;
    found.emplace_back(begin, i);
  }
  return found;
}

/// How far each stands off the median of its six neighbours; a steady rise does not count, nor at
/// the ends, where neighbours that are not there are those of the other side turned round.
inline std::vector<double> off_neighbours(std::vector<double> const& T) {
  auto const n = static_cast<std::ptrdiff_t>(T.size());
  auto const at = [&](std::ptrdiff_t i) {
    auto const value = [&](std::ptrdiff_t j) { return T[static_cast<std::size_t>(j)]; };
    if (i < 0) return 2.0 * value(0) - value(-i);
    if (i >= n) return 2.0 * value(n - 1) - value(2 * (n - 1) - i);
    return value(i);
  };
  std::vector<double> off(T.size());
  for (std::ptrdiff_t i = 0; i < n; ++i) {
    std::array<double, 6> around{at(i - 3), at(i - 2), at(i - 1), at(i + 1), at(i + 2), at(i + 3)};
    std::sort(around.begin(), around.end());
    off[static_cast<std::size_t>(i)] = std::abs(at(i) - 0.5 * (around[2] + around[3]));
  }
  return off;
}

class WallFaults {
 public:
  /// @param wall as it may be, @param medium the air, then the fill, at its grid [K]
  WallFaults(Screening& screening, WallRange const& wall, Eigen::VectorXd const& medium)
      : s_(screening), wall_(wall), medium_(medium) {}

  void units() {
    auto const all = s_.good();
    if (all.size() < 3) return;
    struct Unit {
      char const* words;
      double factor, offset;  // what makes degrees Celsius of the number
      std::size_t fit = 0;
    };
    std::array<Unit, 4> units{Unit{"", 1.0, 0.0}, Unit{"°F, read as °C", 1.0 / 1.8, -32.0 / 1.8},
                              Unit{"°C, read as °F", 1.8, 32.0},
                              Unit{"K, read as °C", 1.0, -zero_celsius}};
    Walk walk(wall_.grid());
    for (auto const i : all) {
      numerics::may_stop(static_cast<std::size_t>(wall_.rows()));
      auto const wall = wall_.at(walk.to(t(i)));
      double const low = wall.minCoeff<Eigen::PropagateNumbers>() - 5.0;
      double const high = wall.maxCoeff<Eigen::PropagateNumbers>() + 5.0;
      for (auto& unit : units) {
        double const kelvin = celsius_from_kelvin(T(i)) * unit.factor + unit.offset + zero_celsius;
        if (kelvin >= low && kelvin <= high) ++unit.fit;
      }
    }
    auto const share = [&](Unit const& unit) {
      return static_cast<double>(unit.fit) / static_cast<double>(all.size());
    };
    if (share(units[0]) > 0.3) return;
    auto const& best = *std::max_element(
        units.begin() + 1, units.end(), [](auto const& a, auto const& b) { return a.fit < b.fit; });
    if (share(best) > 0.8) {
      s_.mark(all, "unit",
              "All {many} look like " + std::string(best.words) +
                  "; not used. Correct the unit in the heading.");
    }
  }

  /// Zeros that a logger writes for a channel that measures nothing.
  void dead() {
    auto const all = s_.good();
    std::vector<bool> zero;
    Walk walk(wall_.grid());
    for (auto const i : all) {
      bool const nothing = std::abs(T(i) - zero_celsius) < 1e-6 ||
                           std::abs(T(i) - (zero_celsius - 32.0 / 1.8)) < 1e-6;
      zero.push_back(nothing && beyond_wall(T(i), walk.to(t(i))));
    }
    Indices those;
    for (auto const& [begin, end] : runs(zero)) {
      if (end - begin < dead_readings) continue;
      those.insert(those.end(), all.begin() + static_cast<std::ptrdiff_t>(begin),
                   all.begin() + static_cast<std::ptrdiff_t>(end));
    }
    s_.mark(those, "dead",
            "{many} are exactly 0.0, as no likely wall is ({at}): is the channel dead? Not used.");
  }

  void stuck() {
    auto const all = s_.good();
    if (all.size() < stuck_readings) return;
    double resolution = std::numeric_limits<double>::infinity();
    std::vector<bool> still;
    for (std::size_t i = 0; i + 1 < all.size(); ++i) {
      double const step = std::abs(T(all[i + 1]) - T(all[i]));
      still.push_back(step <= 1e-6);
      if (!still.back()) resolution = std::min(resolution, step);
    }
    double const least =
        std::isfinite(resolution) ? std::max(stuck_move, 2.0 * resolution) : stuck_move;
    for (auto const& [begin, last] : runs(still)) {
      Indices const those(all.begin() + static_cast<std::ptrdiff_t>(begin),
                          all.begin() + static_cast<std::ptrdiff_t>(last + 1));
      if (those.size() < stuck_readings || t(those.back()) - t(those.front()) < stuck_time)
        continue;
      // Most of the walls that may be must have moved.
      if (!(wall_moves(those) > least)) continue;
      s_.mark(those, "stuck",
              "{many} stand still at " + number(celsius_from_kelvin(T(those.front())), 1) +
                  " °C ({at}) while the wall must move: probe or logger is stuck. Not used.");
    }
  }

  void fallen_off() {
    auto const all = s_.good();
    if (all.size() < off_readings) return;
    Eigen::VectorXd const air = Eigen::VectorXd::Constant(medium_.size(), medium_(0));
    for (auto const& [there, name] :
         {std::pair(&medium_, "the fill of the bladder"), std::pair(&air, "the air outside")}) {
      std::vector<bool> off;
      Walk walk(wall_.grid());
      for (auto const i : all) {
        auto const spot = walk.to(t(i));
        off.push_back(std::abs(T(i) - spot.of(*there)) < off_near && beyond_wall(T(i), spot));
      }
      Indices those;
      for (auto const& [begin, end] : runs(off)) {
        if (end - begin < off_readings) continue;
        those.insert(those.end(), all.begin() + static_cast<std::ptrdiff_t>(begin),
                     all.begin() + static_cast<std::ptrdiff_t>(end));
      }
      if (those.empty()) continue;
      s_.mark(those, "fallen_off",
              "{many} show the temperature of " + std::string(name) +
                  " ({at}), not of the liner: the probe has come off. Not used.");
      return;
    }
  }

  void spikes() {
    Indices found;
    // Twice, so that a large one does not hide a small one beside it.
    for (int turn = 0; turn < 2; ++turn) {
      auto left = s_.good();
      std::erase_if(left, [&](Eigen::Index i) {
        return std::find(found.begin(), found.end(), i) != found.end();
      });
      if (left.size() < 7) break;
      auto const bad = jumps(left);
      if (bad.empty()) break;
      found.insert(found.end(), bad.begin(), bad.end());
    }
    std::sort(found.begin(), found.end());
    s_.mark(found, "spike", "{many} jump faster than the wall can follow ({at}); not used.");
  }

 private:
  /// By how much three in four likely walls move at least, while some readings last [K].
  [[nodiscard]] double wall_moves(Indices const& those) const {
    std::vector<double> times;
    for (auto const i : those) times.push_back(t(i));
    for (double const time : wall_.grid()) {
      if (time > times.front() && time < t(those.back())) times.push_back(time);
    }
    std::sort(times.begin(), times.end());
    Walk walk(wall_.grid());
    Eigen::VectorXd low = wall_.at(walk.to(times.front())), high = low;
    for (double const time : times) {
      numerics::may_stop(static_cast<std::size_t>(wall_.rows()));
      auto const T_wall = wall_.at(walk.to(time));
      low = low.cwiseMin(T_wall);
      high = high.cwiseMax(T_wall);
    }
    std::vector<double> moved(low.size() > 0 ? static_cast<std::size_t>(low.size()) : 0);
    for (std::size_t i = 0; i < moved.size(); ++i) {
      moved[i] = high(numerics::index(i)) - low(numerics::index(i));
    }
    return linear_quantile(moved, 0.25);
  }

  [[nodiscard]] bool beyond_wall(double temperature, Spot const& spot) const {
    numerics::may_stop(10 * static_cast<std::size_t>(wall_.rows()));
    auto const wall = wall_.at(spot);
    std::vector<double> likely(wall.begin(), wall.end());
    return temperature < linear_quantile(likely, 0.01) - off_clear ||
           temperature > linear_quantile(likely, 0.99) + off_clear;
  }

  [[nodiscard]] Indices jumps(Indices const& those) const {
    std::vector<double> times, temperatures;
    for (auto const i : those) {
      times.push_back(t(i));
      temperatures.push_back(T(i));
    }
    auto const off = off_neighbours(temperatures);
    // How far a likely wall itself stands off between its neighbours, as at the top of an exotherm.
    auto const rows = std::min<Eigen::Index>(
        wall_.rows(), std::clamp<Eigen::Index>(500'000 / numerics::index(those.size()), 4, 64));
    std::vector<std::vector<double>> wall;
    for (Eigen::Index row = 0; row < rows; ++row) {
      numerics::may_stop(20 * times.size());
      wall.push_back(off_neighbours(wall_.row(row, times)));
    }
    auto copy = off;
    double const noise = std::min(1.4826 * median(copy), 1.0);
    Indices bad;
    std::vector<double> slack(wall.size());
    for (std::size_t i = 0; i < those.size(); ++i) {
      if (!(off[i] > jump + 4.0 * noise)) continue;
      slack.clear();
      for (auto const& row : wall) slack.push_back(row[i]);
      if (off[i] > jump + 4.0 * noise + linear_quantile(slack, 0.98)) bad.push_back(those[i]);
    }
    return bad;
  }

  [[nodiscard]] double t(Eigen::Index i) const { return s_.t(i); }
  [[nodiscard]] double T(Eigen::Index i) const { return s_.T(i); }

  Screening& s_;
  WallRange const& wall_;
  Eigen::VectorXd const& medium_;
};

}  // namespace cure::follow::detail
