#pragma once
/// From a case to what to do: the call that answers a crew's questions.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/decide/decision.hpp"
#include "cure/process/predict.hpp"
#include "cure/process/validate.hpp"

#if CURE_INSIDE
#include "cure/process/refine.hpp"
#endif

namespace cure::decide {

struct Answer {
  process::Prediction prediction;
  std::optional<Ranges> ranges;
  std::string why_no_ranges;  ///< as part of a sentence; empty when there are ranges
  Decision decision;
};

/// Why a point estimate is one, as part of a sentence.
inline constexpr char const* no_ranges_asked = "no ranges were asked for";

struct Options {
  std::optional<uncertain::Stated> stated = uncertain::usual();  ///< nothing: a point estimate
  std::optional<std::size_t> samples;  ///< a power of two, 16 to 65536; else as many as it takes
  bool numerical_error = true;         ///< estimate it, and add it to the conservative side
  std::size_t threads = 0;             ///< 0: one for each processor
};

#if CURE_INSIDE
namespace detail {

inline bool only_after_release(Case const& c) {
  for (auto const& stage : c.stages) {
    if (!std::holds_alternative<process::AfterRelease>(stage)) return false;
  }
  return true;
}

inline std::size_t checked_samples(std::size_t n) {
  if (n < 16 || n > 65536 || (n & (n - 1)) != 0) {
    throw InputError("samples", std::to_string(n), "a power of two, 16 to 65536");
  }
  return n;
}

/// Each sample released when the answer says; a few, for each is a whole prediction. Of a section
/// on wider cells, and moved by as much as the case itself is by that.
/// @param own service time of the case, if there is one [s]
inline std::optional<Band> service_band(Case const& c, uncertain::Stated const& stated,
                                        std::size_t most, std::optional<double> bladder_out,
                                        std::optional<double> own, std::size_t threads) {
  if (!std::holds_alternative<process::AfterRelease>(c.stages.back())) return std::nullopt;
  auto sampled = c.section ? process::on_wider_cells(c) : c;
  sampled.discretisation.tolerance = ensemble::row_tolerance;
  auto const count = std::min<std::size_t>(most, c.section ? 16 : 64);
  uncertain::Samples const samples(sampled, stated, count, 0, threads);
  auto times = samples.service_times(bladder_out, threads);
  double moved = 1.0;
  if (own && c.section) {
    auto const wide = process::predict_service(sampled, bladder_out);
    if (wide) moved = *own / *wide;
  }
  for (double& t : times) t = moved * or_never(t);
  return uncertain::band(std::move(times), true);
}

/// Numerical error of the release; of a longer hold where the planned one ends before it.
inline double release_error(Case const& c, Answer const& a, Options const& options) {
  auto const& v = a.prediction.verdict;
  bool const later = !v.release_time && a.ranges && std::isfinite(a.ranges->release_side.bound);
  if (!later || !options.numerical_error) return numerical_error(v, "release");
  auto const longer = looked_at(c);
  return numerical_error(process::predict(longer, true).verdict, "release");
}

/// Of a case as its mesh and steps are.
inline Answer as_meshed(Case const& c, Options const& options) {
  Answer a;
  // Before the samples: a mesh beyond the budget of one run is refused at once.
  a.prediction = process::predict(c, options.numerical_error);
  auto count = sample_count(c);
  if (options.samples) count = {*options.samples, checked_samples(*options.samples)};
  if (!options.stated) {
    a.why_no_ranges = no_ranges_asked;
  } else if (only_after_release(c)) {
    a.why_no_ranges = "the time after release is not sampled";
  } else {
    auto const hold = process::planned_hold(c);
    a.ranges = ranges(c, *options.stated, hold ? hold->first : infinite, count, options.threads);
  }
  a.decision = decide(c, a.prediction.verdict, a.ranges, release_error(c, a, options));
  if (a.decision.release_time) {
    // What comes after the release starts at the decision's.
    a.prediction = process::predict(c, options.numerical_error, a.decision.release_time);
  }
  if (a.ranges) {
    a.ranges->service = service_band(c, *options.stated, count.most, a.decision.release_time,
                                     a.prediction.verdict.service_time, options.threads);
  }
  return a;
}

}  // namespace detail
#endif

/// Predicts a case, finds its ranges, and decides. A held stage that ends at the release ends at
/// the decision's. Mesh and steps are refined where the case says how exact its release must be.
/// @throws InputError, SolverError
CURE_FUNCTION Answer answer(Case const& c, Options const& options = {});
#if CURE_DEFINES(DECIDE)
CURE_FUNCTION Answer answer(Case const& c, Options const& options) {
  process::validate(c);
  if (!c.discretisation.release_within) return detail::as_meshed(c, options);
  return detail::as_meshed(process::refined(c), options);
}
#endif

}  // namespace cure::decide
