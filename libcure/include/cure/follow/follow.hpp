#pragma once
/// Follows a job that runs: a thermocouple's readings update the release and its band.
///
///     auto const result = cure::follow::follow(job, readings, {.at = "liner outer face"});
///     if (result.status() == cure::follow::Status::may_come_out) ...
///
/// What is not known (ground, contact, constants of the resin ...) has the range that
/// decide::answer gives it; the readings narrow it, and the release with its band follows. Readings
/// that cannot be the wall's are left out and told. They may move the release earlier only when
/// every check passes; else the later of the releases with and without them is the answer. The same
/// readings, in whatever order, and the same seed give the same numbers to the bit.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/follow/result.hpp"

#if CURE_INSIDE
#include "cure/follow/importance.hpp"
#include "cure/follow/other_causes.hpp"
#include "cure/follow/told.hpp"
#include "cure/process/cautions.hpp"
#endif

namespace cure::follow {

inline constexpr std::int64_t fewest_samples = 64, most_samples = 16384, most_seed = 0xFFFF'FFF7;
inline constexpr char const* sample_counts = "a power of two, 64 to 16384";
inline constexpr char const* seeds = "0 to 4294967287";

using process::Case;

struct Options {
  std::string at = "liner outer face";  ///< where the probe lies: a place of the liner
  std::optional<double> now = {};       ///< by a clock that is right [s]; else the last row's
  uncertain::Stated stated = uncertain::usual();
  /// Where the ranges come from, as `Unknown::source` says it.
  std::string range_source = assumed;
  /// Rows to start from, and at least as many with the readings, as `sample_counts`; 1024 when left
  /// out, 256 for a resin or wall that takes the slow solver.
  std::optional<std::int64_t> samples = {};
  std::int64_t seed = 20260101;  ///< of the sampling, as `seeds`
  std::size_t threads = 0;       ///< 0: one for each processor
  std::string name = {};         ///< of the case, for messages
};

#if CURE_INSIDE
namespace detail {

inline constexpr char const* one_place =
    "A probe reads one place: where the liner is thicker or the pipe colder than there, it may be "
    "ready later.";

/// Reasons of the plan's answer but what the readings decide anew, and a hold that is planned to
/// end too early.
inline std::vector<std::string> urgent(Case const& c, decide::Decision const& planned,
                                       double release) {
  // About the release.
  static constexpr std::array anew{
      "release_never", "release_not_reached", "release_not_sure", "hold_longer", "marginal",
      "wide",          "few_samples"};
  std::vector<std::string> texts;
  for (auto const& reason : planned.reasons) {
    if (!decide::detail::is_among(anew, reason.code)) texts.push_back(reason.text);
  }
  double const end = ensemble::needed_hold(c).second;
  if (std::isfinite(release) && release > end) {
    texts.push_back("The hold is planned to end at " + decide::duration(end, false) +
                    ": hold until " + decide::duration(release, true) + ".");
  }
  return texts;
}

/// @throws InputError for options that cannot be
inline void check(Case const& c, Options const& o) {
  auto const places = process::places_of(process::Part::liner);
  if (std::find(places.begin(), places.end(), o.at) == places.end()) {
    std::string list;
    for (auto const& place : places) list += (list.empty() ? "" : ", ") + place;
    throw InputError("at", "\"" + o.at + "\"", "one of " + list);
  }
  if (c.section) {
    throw InputError("section", "given", "a case in one dimension: a probe is at one place of it",
                     o.name);
  }
  std::set<std::string> reserved;
  for (auto const& nuisance : nuisances) reserved.insert(nuisance.name);
  uncertain::validate(o.stated, reserved);
  auto const n = o.samples.value_or(fewest_samples);
  if (n < fewest_samples || n > most_samples || (n & (n - 1)) != 0) {
    throw InputError("samples", std::to_string(n), sample_counts);
  }
  if (o.seed < 0 || o.seed > most_seed) throw InputError("seed", std::to_string(o.seed), seeds);
}

class Following {
 public:
  Following(Case const& c, Readings const& readings, Options const& options)
      : readings_(readings),
        options_(options),
        job_(c, options.at, options.stated, options.threads) {
    r_.at = options.at;
    r_.file = readings.file;
    r_.samples =
        static_cast<std::size_t>(options.samples.value_or(ensemble::packable(c) ? 1024 : 256));
    r_.seed = static_cast<std::uint64_t>(options.seed);
    decide_now();
  }

  Result run() {
    decide::Options plan{.stated = options_.stated, .samples = {}, .threads = options_.threads};
    auto const planned = decide::answer(job_.its_case(), plan);
    r_.before = sure_of(planned);
    // The picture shows what comes, too.
    double const expected =
        std::isfinite(r_.before.wait_until) ? 1.05 * r_.before.wait_until : r_.now + 3600.0;
    auto const grid =
        time_grid(job_.held(), std::max({r_.now, expected, job_.held().first + 600.0}));
    Known const known{job_, grid, job_.medium(grid)};
    auto const n = numerics::index(r_.samples);
    Rows prior{normal_rows(job_.unknowns() + nuisance_count, n, r_.seed), {}};
    prior.traces = job_.traces(prior.x, grid);
    Weighted const equal{prior.x, Eigen::VectorXd::Constant(n, 1.0 / static_cast<double>(n)),
                         static_cast<double>(n)};
    r_.readings = screen(readings_, job_.held(), WallRange(grid, prior.traces), known.medium);
    r_.faults = r_.readings.statements;
    auto const [rows, traces] = with_readings(known, prior, equal);
    conclude(planned);
    r_.effective_rows = rows.effective;
    r_.unknowns = told(job_, equal, rows, options_.range_source);
    r_.band_before = temperatures(known, prior.traces, equal);
    r_.band_after = temperatures(known, traces, rows);
    return std::move(r_);
  }

 private:
  void decide_now() {
    double last = -std::numeric_limits<double>::infinity();
    for (double const t : readings_.time) {
      if (std::isfinite(t)) last = std::max(last, t);
    }
    if (std::isinf(last)) last = job_.held().first;
    last = std::max(last, 0.0);
    if (options_.now && !(std::isfinite(*options_.now) && *options_.now >= last - 1.0)) {
      throw InputError("now_min", shown(*options_.now / 60.0),
                       shown(last / 60.0) +
                           " or more: the readings go to there, or their clock or unit is wrong",
                       readings_.file);
    }
    r_.now = options_.now.value_or(last);
    r_.now_given = options_.now.has_value();
  }

  /// Good readings; nothing for less than two.
  [[nodiscard]] std::optional<Data> data(Known const& known, Rows const& prior) const {
    auto const good = r_.readings.with(used);
    if (good.size() < 2) return std::nullopt;
    Eigen::VectorXd const t = r_.readings.time(good), T = r_.readings.temperature(good);
    double low = std::numeric_limits<double>::infinity(), high = -low;
    for (Eigen::Index i = 0; i < known.grid.size(); ++i) {
      if (known.grid(i) < t(0) || known.grid(i) > t(t.size() - 1)) continue;
      std::vector<double> likely(prior.traces.col(i).begin(), prior.traces.col(i).end());
      double const middle = linear_quantile(likely, 0.5);
      low = std::min(low, middle);
      high = std::max(high, middle);
    }
    return weigh(t, T, high > low ? high - low : 0.0);
  }

  /// What is known with the readings, and whether they are relied on.
  std::pair<Weighted, RowMatrix> with_readings(Known const& known, Rows const& prior,
                                               Weighted const& equal) {
    auto const found = data(known, prior);
    r_.effective_readings = found ? found->worth() : 0.0;
    r_.reasons = amount(r_.readings, r_.effective_readings, r_.now, job_.held().second);
    r_.after = r_.before;
    if (!(r_.effective_readings > 0.0)) return {equal, prior.traces};
    auto const best = fit(known, *found, prior, {.covariance = true});
    double const least = std::max(0.2 * static_cast<double>(r_.samples), enough_rows);
    auto sampled = sample(known, *found, prior, best, r_.seed, least);
    auto const& [rows, traces] = sampled;
    r_.after = sure_of(job_.outcomes(rows.x), rows);
    if (!r_.reasons.empty()) return sampled;
    r_.reasons = agreement(job_, *found, best, rows.effective);
    RowMatrix const x = best.x.transpose();
    Rows const starts{stacked(rows.x, x), stacked(traces, job_.traces(x, known.grid))};
    for (auto& reason : OtherCauses(known, *found, best, r_.readings, starts, r_.now_given).run()) {
      r_.reasons.push_back(std::move(reason));
    }
    return sampled;
  }

  void conclude(decide::Answer const& planned) {
    r_.relied_on = r_.reasons.empty();
    r_.working = r_.after.working.p5;
    if (!r_.relied_on) {
      // Whoever reads one number must not read one to let go by.
      r_.after.wait_until = std::max(r_.before.wait_until, r_.after.wait_until);
      r_.working = std::min(r_.working, r_.before.working.p5);
    }
    r_.release = r_.after.wait_until;
    r_.cautions = urgent(job_.its_case(), planned.decision, r_.release);
    r_.usual_cautions = process::usual_cautions(planned.prediction.verdict);
    r_.usual_cautions.insert(r_.usual_cautions.begin(), one_place);
  }

  Readings const& readings_;
  Options const& options_;
  Job job_;
  Result r_;
};

}  // namespace detail
#endif

/// @param c a case in one dimension with a held stage. @throws InputError, SolverError,
/// numerics::Stopped
CURE_FUNCTION Result follow(Case const& c, Readings const& readings, Options const& options = {});
#if CURE_DEFINES(FOLLOW)
CURE_FUNCTION Result follow(Case const& c, Readings const& readings, Options const& options) {
  process::validate(c);
  readings.validate();
  detail::check(c, options);
  return detail::Following(c, readings, options).run();
}
#endif

}  // namespace cure::follow
