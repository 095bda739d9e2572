#pragma once
/// Rows of an ensemble: what they have in common, in what they differ, and how threads share them.

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <exception>
#include <mutex>
#include <span>
#include <string>
#include <thread>
#include <vector>
#include <version>

#include "cure/ensemble/inputs.hpp"
#include "cure/error.hpp"
#include "cure/numerics/run_control.hpp"
#include "cure/process/validate.hpp"

namespace cure::ensemble {

/// Of an ensemble; looser than one case's, which is below what any input is known to.
inline constexpr process::Tolerance row_tolerance{.temperature = 0.05, .alpha = 2e-4};
/// Where samples only tell a side that is searched with: times within 0.5 % of those of tight
/// tolerances.
inline constexpr process::Tolerance sample_tolerance{.temperature = 0.4, .alpha = 4e-4};

/// What all rows have in common and in what they differ.
struct RowPlan {
  Case const* base = nullptr;
  std::vector<Input const*> inputs;
  std::span<double const> values;  ///< input by input: values[i * rows + row]
  std::size_t rows = 0;
  std::vector<kinetics::Resin<double> const*> resins;  ///< empty: that of the case
  std::span<std::int64_t const> resin_of;              ///< of each row; when there are resins
  std::size_t threads = 0;                             ///< 0: one for each processor
};

/// Rows that one thread takes at a time where each goes through process::predict, a hundred times
/// slower than the packed solver.
inline constexpr std::size_t chunk_rows_predicted = 4;

namespace detail {

/// Row i of a plan, of its base or another case, into c. @throws InputError
inline void make_row(RowPlan const& plan, Case const& base, std::size_t i, Case& c) {
  c = base;
  if (!plan.resins.empty()) c.resin = *plan.resins[static_cast<std::size_t>(plan.resin_of[i])];
  for (std::size_t k = 0; k < plan.inputs.size(); ++k) {
    apply(*plan.inputs[k], plan.values[k * plan.rows + i], c);
  }
  process::validate(c);
}
inline void make_row(RowPlan const& plan, std::size_t i, Case& c) {
  make_row(plan, *plan.base, i, c);
}

/// @throws InputError for a plan that makes no sense
inline void check_plan(RowPlan const& plan) {
  if (plan.base == nullptr) throw InputError("base", "none", "a case");
  process::validate(*plan.base);
  if (plan.values.size() != plan.inputs.size() * plan.rows) {
    throw InputError("inputs", std::to_string(plan.values.size()) + " values",
                     "one for each row of each input");
  }
  if (!plan.resins.empty() && plan.resin_of.size() != plan.rows) {
    throw InputError("resin_of", std::to_string(plan.resin_of.size()) + " values",
                     "one for each row");
  }
  for (auto const r : plan.resin_of) {
    if (r < 0 || static_cast<std::size_t>(r) >= plan.resins.size()) {
      throw InputError("resin_of", std::to_string(r),
                       "0 to " + std::to_string(plan.resins.size()) + " less 1");
    }
  }
}

/// Shares rows out among threads. The first error of any of them ends all, and so does whoever may
/// stop the caller's thread.
/// @param threads 0 for one per processor
/// @param worker makes what a thread calls with the first row of a chunk and the one after its last
template <class Worker>
void in_chunks(std::size_t rows, std::size_t threads, std::size_t chunk_size,
               Worker const& worker) {
  std::atomic<std::size_t> next = 0, running = 0;
  std::atomic<bool> ended = false;
  std::exception_ptr error;
  std::mutex error_mutex, stop_mutex;
  auto const stop = numerics::stop_question();
  auto const asked = [&] {
    std::lock_guard const lock(stop_mutex);
    return ended || (stop && stop());
  };
  auto const work = [&] {
    try {
      numerics::StopScope const scope(asked);
      auto run = worker();
      while (true) {
        if (numerics::stop_asked()) throw numerics::Stopped();
        std::size_t const begin = next.fetch_add(chunk_size);
        if (begin >= rows) break;
        run(begin, std::min(begin + chunk_size, rows));
      }
    } catch (...) {
      std::lock_guard const lock(error_mutex);
      if (!ended.exchange(true)) error = std::current_exception();
    }
    --running;
  };
  if (threads == 0) threads = std::max<std::size_t>(1, std::thread::hardware_concurrency());
  threads = std::min(threads, (rows + chunk_size - 1) / chunk_size);
  {
#ifdef __cpp_lib_jthread
    std::vector<std::jthread> others;
    running = std::max<std::size_t>(1, threads);
    for (std::size_t i = 1; i < threads; ++i) others.emplace_back(work);
#else
    running = 1;  // a library without such threads, as that of WebAssembly: all on the caller's
#endif
    work();
    // The others may be long; who may stop this thread is asked all the same.
    while (running > 0 && stop) {
      std::this_thread::sleep_for(std::chrono::milliseconds(1));
      if (asked()) {
        std::lock_guard const lock(error_mutex);
        if (!ended.exchange(true)) error = std::make_exception_ptr(numerics::Stopped());
      }
    }
  }
  if (error) std::rethrow_exception(error);
}

}  // namespace detail

}  // namespace cure::ensemble
