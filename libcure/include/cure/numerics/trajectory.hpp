#pragma once
/// A solution kept as its accepted states and slopes, to be read at any time by cubic Hermite
/// interpolation.

#include <algorithm>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "cure/numerics/hermite.hpp"
#include "cure/numerics/run_control.hpp"

namespace cure::numerics {

class Trajectory {
 public:
  Trajectory() = default;
  explicit Trajectory(std::size_t width) : width_(width) {}

  /// Appends a state with its slope at time t [s], not before the last one.
  void append(double t, std::span<double const> y, std::span<double const> f) {
    time_.push_back(t);
    state_.insert(state_.end(), y.begin(), y.end());
    slope_.insert(slope_.end(), f.begin(), f.end());
  }

  /// Makes room for so many states.
  void reserve(std::size_t states) {
    time_.reserve(states);
    state_.reserve(states * width_);
    slope_.reserve(states * width_);
  }

  /// The last state and its slope, to be changed.
  [[nodiscard]] std::pair<std::span<double>, std::span<double>> last() {
    return {std::span(state_).last(width_), std::span(slope_).last(width_)};
  }

  /// Forgets everything after t, which becomes the last time; t lies within the trajectory.
  void truncate(double t) {
    if (empty() || t >= time_.back()) return;
    std::vector<double> y(width_), f(width_);
    state_at(t, y);
    auto const i = interval(t);
    double const s = (t - time_[i]) / (time_[i + 1] - time_[i]);
    for (std::size_t k = 0; k < width_; ++k) {
      f[k] = (1.0 - s) * slope(i)[k] + s * slope(i + 1)[k];
    }
    auto const keep = t > time_[i] ? i + 1 : i;
    time_.resize(keep);
    state_.resize(keep * width_);
    slope_.resize(keep * width_);
    append(t, y, f);
  }

  [[nodiscard]] bool empty() const { return time_.empty(); }
  [[nodiscard]] std::size_t width() const { return width_; }
  [[nodiscard]] std::vector<double> const& times() const { return time_; }
  [[nodiscard]] std::span<double const> state(std::size_t i) const {
    return std::span(state_).subspan(i * width_, width_);
  }
  [[nodiscard]] std::span<double const> slope(std::size_t i) const {
    return std::span(slope_).subspan(i * width_, width_);
  }
  /// All states, one after the other (times x width), where they stand.
  [[nodiscard]] std::span<double const> states() const { return state_; }

  /// State at time t [s]; constant outside the trajectory. Every search in a solution comes through
  /// here. @throws Stopped
  void state_at(double t, std::span<double> y) const { state_at(t, y, 0, width_); }
  /// Of it the numbers from `first` on alone, where they stand in y.
  void state_at(double t, std::span<double> y, std::size_t first, std::size_t count) const {
    may_stop(count);
    if (t <= time_.front() || time_.size() == 1) return copy(0, y, first, count);
    if (t >= time_.back()) return copy(time_.size() - 1, y, first, count);
    auto const i = interval(t);
    auto const w = hermite_weights(time_[i], time_[i + 1], t);
    auto const a = state(i), fa = slope(i), b = state(i + 1), fb = slope(i + 1);
    for (std::size_t k = first; k < first + count; ++k) y[k] = w(a[k], fa[k], b[k], fb[k]);
  }

  /// The accepted times with `between` points inside each step.
  [[nodiscard]] std::vector<double> refined_times(std::size_t between) const {
    std::vector<double> times;
    for (std::size_t i = 0; i + 1 < time_.size(); ++i) {
      for (std::size_t k = 0; k <= between; ++k) {
        times.push_back(time_[i] + (time_[i + 1] - time_[i]) * static_cast<double>(k) /
                                       static_cast<double>(between + 1));
      }
    }
    if (!time_.empty()) times.push_back(time_.back());
    return times;
  }

 private:
  [[nodiscard]] std::size_t interval(double t) const {
    auto const above = std::upper_bound(time_.begin(), time_.end(), t);
    return std::min(static_cast<std::size_t>(above - time_.begin()), time_.size() - 1) - 1;
  }
  void copy(std::size_t i, std::span<double> y, std::size_t first, std::size_t count) const {
    auto const s = state(i);
    std::copy_n(s.data() + first, count, y.data() + first);
  }

  std::size_t width_ = 0;
  std::vector<double> time_, state_, slope_;
};

}  // namespace cure::numerics
