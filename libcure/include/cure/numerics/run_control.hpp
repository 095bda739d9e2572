#pragma once
/// What a run may take, and how it is stopped from outside.
///
/// Whoever waits for a run opens a StopScope on its thread; all that runs there asks it every few
/// milliseconds, counted in numbers worked through so that no clock is read in a step. It is not
/// handed down as an argument because every solve and every search in a solution has to ask.

#include <algorithm>
#include <cstddef>
#include <functional>
#include <string>
#include <utility>

#include "cure/error.hpp"
#include "cure/range.hpp"

namespace cure::numerics {

/// Of one simulation, all its stages together.
struct RunLimits {
  std::size_t steps = 2'000'000;
  /// Of the states and slopes kept; growing arrays take up to twice that for a moment. A plain job
  /// keeps half a megabyte, a large section some hundred; a laptop bears this.
  std::size_t bytes = 1'000'000'000;
};

/// Counts what a simulation has taken.
class RunMeter {
 public:
  explicit RunMeter(RunLimits const& limits = {}) : limits_(limits) {}

  /// One more step, to `t` [s from the stage's start], which keeps a state of `width` numbers.
  /// @throws InputError that names the limit and what to change
  void step(double t, std::size_t width) {
    bytes_ += (2 * width + 1) * sizeof(double);
    if (++steps_ > limits_.steps) refuse(shown(1.0 * static_cast<double>(steps_)) + " steps", t);
    if (bytes_ > limits_.bytes) refuse(megabytes(bytes_) + " of history", t);
  }

 private:
  static std::string megabytes(std::size_t bytes) {
    return shown(std::max(1e-6 * static_cast<double>(bytes), 0.01), 4) + " MB";
  }
  [[noreturn]] void refuse(std::string const& taken, double t) const {
    throw InputError("numerics", taken + " at " + shown(t) + " s of a stage",
                     "at most " + shown(static_cast<double>(limits_.steps)) + " steps and " +
                         megabytes(limits_.bytes) +
                         " of history; take fewer numerics.cells, larger "
                         "numerics.temperature_tolerance_K and alpha_tolerance, or accuracy quick");
  }

  RunLimits limits_;
  std::size_t steps_ = 0, bytes_ = 0;
};

/// A run that was asked to stop.
class Stopped : public Error {
 public:
  Stopped() : Error("stopped before the end") {}
};

/// Asked every few milliseconds by what runs, on its threads but by one at a time; true stops.
using StopQuestion = std::function<bool()>;

namespace detail {

struct StopState {
  StopQuestion stop;
  std::size_t work = 0;
};
inline constinit thread_local StopState* stop_state = nullptr;

}  // namespace detail

/// While it lives, what runs on this thread asks this question in place of any other.
class StopScope {
 public:
  explicit StopScope(StopQuestion stop)
      : state_{std::move(stop)}, outer_(std::exchange(detail::stop_state, &state_)) {}
  ~StopScope() { detail::stop_state = outer_; }
  StopScope(StopScope const&) = delete;
  StopScope& operator=(StopScope const&) = delete;

 private:
  detail::StopState state_;
  detail::StopState* outer_;
};

/// This thread's question; empty when nobody can stop it.
inline StopQuestion stop_question() {
  return detail::stop_state == nullptr ? StopQuestion() : detail::stop_state->stop;
}

/// Whether what runs on this thread is to stop.
inline bool stop_asked() {
  return detail::stop_state != nullptr && detail::stop_state->stop && detail::stop_state->stop();
}

/// To be called along the way. @param numbers worked through since the last time, at some
/// nanoseconds each
/// @throws Stopped
inline void may_stop(std::size_t numbers) {
  auto* const state = detail::stop_state;
  if (state == nullptr || (state->work += numbers) < 1'000'000) return;
  state->work = 0;
  if (stop_asked()) throw Stopped();
}

}  // namespace cure::numerics
