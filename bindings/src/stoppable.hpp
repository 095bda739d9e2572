#pragma once
/// Runs the core without the GIL so that Ctrl-C, or an event of the caller, stops it.

#include <atomic>
#include <chrono>
#include <optional>
#include <thread>
#include <utility>

#include "bind.hpp"
#include "cure/numerics/run_control.hpp"

namespace cure::python {

/// Whether a run that this thread waits for is to stop. Other threads that work for it may ask too.
class Interrupt {
 public:
  /// @param stop has `is_set()`, as threading.Event, or is None
  explicit Interrupt(py::object stop) : stop_(std::move(stop)) {
    auto const threading = py::module_::import("threading");
    // Python hears signals on its main thread only.
    bool const main = threading.attr("current_thread")().is(threading.attr("main_thread")());
    asks_ = main || !stop_.is_none();
  }

  /// Called without the GIL, which it takes at most every 50 ms.
  bool asked() {
    if (stopped_ || !asks_ || std::this_thread::get_id() != caller_) return stopped_;
    if (Clock::now() < next_) return false;
    {
      py::gil_scoped_acquire const gil;
      try {
        if (PyErr_CheckSignals() != 0) throw py::error_already_set();
        stopped_ = !stop_.is_none() && stop_.attr("is_set")().cast<bool>();
      } catch (py::error_already_set const& error) {
        raised_ = error;
        stopped_ = true;
      }
    }
    next_ = Clock::now() + std::chrono::milliseconds(50);
    return stopped_;
  }

  /// Raises what Python raised when it was asked, such as KeyboardInterrupt.
  void raise() const {
    if (raised_) throw py::error_already_set(*raised_);
  }

 private:
  using Clock = std::chrono::steady_clock;
  py::object stop_;
  bool asks_ = false;
  std::thread::id caller_ = std::this_thread::get_id();
  std::atomic<bool> stopped_ = false;
  Clock::time_point next_ = Clock::now() + std::chrono::milliseconds(50);
  std::optional<py::error_already_set> raised_;
};

/// What `run` returns.
/// @param stop has `is_set()`, as threading.Event, or is None
/// @throws Stopped when the event is set; what a signal raises in Python
template <class F>
auto stoppable(py::object stop, F const& run) {
  Interrupt interrupt(std::move(stop));
  try {
    py::gil_scoped_release const release;
    numerics::StopScope const scope([&interrupt] { return interrupt.asked(); });
    return run();
  } catch (numerics::Stopped const&) {
    interrupt.raise();
    throw;
  }
}

}  // namespace cure::python
