#pragma once
/// A value that changes with time: piecewise linear between table points, constant before the
/// first and after the last.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <initializer_list>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"

namespace cure::numerics {

class Schedule {
 public:
  Schedule() : Schedule(0.0) {}
  Schedule(double constant) : time_{0.0}, value_{constant} {}  // NOLINT: a number is a schedule

  /// @param time [s], strictly increasing
  /// @param value one for each time
  /// @throws InputError
  Schedule(std::vector<double> time, std::vector<double> value)
      : time_(std::move(time)), value_(std::move(value)) {
    if (time_.empty() || time_.size() != value_.size()) {
      throw InputError(
          "table",
          std::to_string(time_.size()) + " times, " + std::to_string(value_.size()) + " values",
          "as many values as times, at least one");
    }
    for (std::size_t i = 0; i < time_.size(); ++i) {
      if (!std::isfinite(time_[i]) || !std::isfinite(value_[i])) {
        throw InputError("table", "a number that is not finite", "finite numbers");
      }
      if (i > 0 && !(time_[i] > time_[i - 1])) {
        throw InputError("table.time[" + std::to_string(i) + "]", std::to_string(time_[i]) + " s",
                         "above the time before it, " + std::to_string(time_[i - 1]) + " s");
      }
    }
  }

  [[nodiscard]] double at(double t) const {
    if (t <= time_.front()) return value_.front();
    if (t >= time_.back()) return value_.back();
    auto const i = interval(t);
    double const s = (t - time_[i]) / (time_[i + 1] - time_[i]);
    return value_[i] + s * (value_[i + 1] - value_[i]);
  }

  /// Slope to the right of t [1/s].
  [[nodiscard]] double slope(double t) const {
    if (t < time_.front() || t >= time_.back()) return 0.0;
    auto const i = interval(t);
    return (value_[i + 1] - value_[i]) / (time_[i + 1] - time_[i]);
  }

  /// The same times with value * factor + offset.
  [[nodiscard]] Schedule scaled(double factor, double offset) const {
    auto changed = *this;
    for (auto& v : changed.value_) v = v * factor + offset;
    return changed;
  }

  /// The same by a clock that starts at `start` of this one's [s].
  [[nodiscard]] Schedule later(double start) const {
    auto changed = *this;
    for (auto& t : changed.time_) t -= start;
    return changed;
  }

  [[nodiscard]] bool constant() const { return time_.size() == 1; }
  [[nodiscard]] double min() const { return *std::min_element(value_.begin(), value_.end()); }
  [[nodiscard]] double max() const { return *std::max_element(value_.begin(), value_.end()); }
  /// Times at which the slope jumps; a solve lands on each [s].
  [[nodiscard]] std::vector<double> const& times() const { return time_; }
  [[nodiscard]] std::vector<double> const& values() const { return value_; }

  bool operator==(Schedule const&) const = default;

 private:
  [[nodiscard]] std::size_t interval(double t) const {
    auto const above = std::upper_bound(time_.begin(), time_.end(), t);
    return static_cast<std::size_t>(above - time_.begin()) - 1;
  }
  std::vector<double> time_, value_;
};

/// The times inside (0, duration), each once, ascending, then duration [s]: where a solve must
/// land.
inline std::vector<double> stops_within(std::vector<double> times, double duration) {
  std::erase_if(times, [&](double t) { return !(t > 0.0 && t < duration); });
  times.push_back(duration);
  std::sort(times.begin(), times.end());
  times.erase(std::unique(times.begin(), times.end()), times.end());
  return times;
}

/// The same for the corners of schedules.
inline std::vector<double> stops_within(std::initializer_list<Schedule const*> schedules,
                                        double duration) {
  std::vector<double> corners;
  for (auto const* s : schedules) {
    if (!s->constant()) corners.insert(corners.end(), s->times().begin(), s->times().end());
  }
  return stops_within(std::move(corners), duration);
}

}  // namespace cure::numerics
