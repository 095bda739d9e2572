#pragma once
/// More samples of a case than are simulated: those that may move a bound or a share of its ranges
/// are, and the others foretold from the first (uncertain/foretold.hpp).

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "cure/ensemble/outcome.hpp"
#include "cure/process/case.hpp"
#include "cure/uncertain/foretold.hpp"
#include "cure/uncertain/quantile.hpp"
#include "cure/uncertain/samples.hpp"

namespace cure::decide::detail {

/// Beyond what a sample counts otherwise, whatever the others say.
struct Edges {
  double held_from;          ///< [s] a working time before it is too late
  double look_ends;          ///< [s] a release after it is none
  double temperature_limit;  ///< [K] a peak above it is too hot
};

/// A number of an outcome, and as quantiles take it.
struct Number {
  double ensemble::Outcome::*of;
  double ensemble::ConservativeOutcome::*safe;

  bool operator==(Number const&) const = default;
};

inline constexpr Number working_time{&ensemble::Outcome::working_time,
                                     &ensemble::ConservativeOutcome::working_time};
inline constexpr Number release_time{&ensemble::Outcome::release_time,
                                     &ensemble::ConservativeOutcome::release_time};
inline constexpr Number peak_temperature{&ensemble::Outcome::peak_temperature,
                                         &ensemble::ConservativeOutcome::peak_temperature};
/// What ranges look at. Of a job without a hold there is a working time only.
inline constexpr std::array ranged_numbers{
    working_time,
    Number{&ensemble::Outcome::gel_time_first, &ensemble::ConservativeOutcome::gel_time_first},
    Number{&ensemble::Outcome::gel_time_last, &ensemble::ConservativeOutcome::gel_time_last},
    release_time, peak_temperature};

/// Whether each ran and has all of the numbers, so that others can be foretold from them.
inline bool have_all(std::vector<ensemble::Outcome> const& outcomes,
                     std::span<Number const> numbers) {
  return std::all_of(outcomes.begin(), outcomes.end(), [&](ensemble::Outcome const& o) {
    auto const safe = ensemble::conservative(o);
    return o.failure.empty() &&
           std::all_of(numbers.begin(), numbers.end(),
                       [&](Number const& number) { return std::isfinite(safe.*number.safe); });
  });
}

class MoreSamples {
 public:
  /// @param c whose resin is drawn. @param job what is simulated; both must outlive this
  /// @param first outcomes of the first samples. @param most samples in all
  /// @param coarse outcomes of all of them by a coarser simulation; empty: none, a quadratic in
  /// their points foretells. @param numbers that are looked at
  MoreSamples(process::Case const& c, process::Case const& job, uncertain::Stated const& stated,
              Edges const& edges, std::vector<ensemble::Outcome> first, std::size_t most,
              std::size_t threads, std::vector<ensemble::Outcome> const& coarse = {},
              std::span<Number const> numbers = ranged_numbers)
      : case_(c),
        job_(job),
        stated_(stated),
        edges_(edges),
        threads_(threads),
        first_(first.size()),
        points_(uncertain::Draws::points(c, stated, most)),
        outcomes_(std::move(first)),
        simulated_(most, false) {
    std::fill_n(simulated_.begin(), first_, true);
    // A number that never comes has no place among bounds.
    foretold_ = have_all(outcomes_, numbers) && have_all(coarse, numbers);
    if (foretold_) foretell(most, coarse, numbers);
    outcomes_.resize(most, outcomes_.front());
  }

  /// Outcomes of the first `count` samples, more than before.
  std::vector<ensemble::Outcome> outcomes(std::size_t count) {
    double slack = uncertain::first_slack;
    for (auto rows = missing(count, slack); !rows.empty(); rows = missing(count, slack)) {
      simulate(rows);
      slack = 1.0;
    }
    std::vector<ensemble::Outcome> found(outcomes_.begin(), outcomes_.begin() + offset(count));
    for (std::size_t i = 0; i < count; ++i) {
      if (simulated_[i]) continue;
      for (auto const& q : quantities_) found[i].*q.number.of = q.values.now()[i];
    }
    return found;
  }

  /// How many are simulated until now.
  [[nodiscard]] std::size_t simulated() const {
    return static_cast<std::size_t>(std::count(simulated_.begin(), simulated_.end(), true));
  }

 private:
  struct Between {
    double low, high;
  };
  struct Quantity {
    Number number;
    uncertain::PartlySimulated values;
  };

  static std::ptrdiff_t offset(std::size_t i) { return static_cast<std::ptrdiff_t>(i); }

  /// Where a sample of a quantity counts: the bound that is told first. Values as in
  /// PartlySimulated::now, of which `count` are looked at.
  [[nodiscard]] std::vector<Between> between(Number const& number, std::vector<double> values,
                                             std::size_t count) const {
    values.resize(count);
    if (number == working_time) {
      auto const side = uncertain::lower_side(std::move(values), uncertain::side_share);
      return {{side.bound, side.estimate}, {edges_.held_from, edges_.held_from}};
    }
    if (number == release_time) {
      auto const side = uncertain::upper_side(std::move(values), uncertain::side_share);
      return {{side.estimate, side.bound},
              {edges_.look_ends, std::numeric_limits<double>::infinity()}};
    }
    if (number == peak_temperature) {
      return {{edges_.temperature_limit, edges_.temperature_limit}};
    }
    return {};
  }

  void foretell(std::size_t most, std::vector<ensemble::Outcome> const& coarse,
                std::span<Number const> numbers) {
    std::optional<uncertain::Foreteller> points;
    if (coarse.empty()) points.emplace(points_, first_);
    for (auto const& number : numbers) {
      std::vector<double> first;
      for (auto const& o : outcomes_) first.push_back(ensemble::conservative(o).*number.safe);
      auto const bounds = between(number, first, first_);
      auto const [low, high] = bounds.empty() ? Between{} : bounds.front();
      Quantity q{number, {std::move(first), most, number != peak_temperature}};
      auto& values = q.values;
      std::optional<uncertain::Foretold> found;
      if (points) {
        found = points->of(values.scaled_first());
      } else {
        Eigen::VectorXd all(numerics::index(most));
        for (std::size_t i = 0; i < most; ++i) {
          all[numerics::index(i)] = values.scaled(coarse[i].*number.of);
        }
        found = uncertain::foretold_by(all, values.scaled_first());
      }
      foretold_ = values.foretell(std::move(found), low, high);
      if (!foretold_) return;
      quantities_.push_back(std::move(q));
    }
  }

  /// Of the first `count` samples those that have to be simulated.
  [[nodiscard]] std::vector<std::size_t> missing(std::size_t count, double slack) const {
    std::vector<bool> wanted(count, !foretold_);
    if (foretold_) {
      for (auto const& q : quantities_) {
        for (auto const& [low, high] : between(q.number, q.values.now(), count)) {
          for (auto const i : q.values.missing(count, low, high, slack)) wanted[i] = true;
        }
      }
    }
    std::vector<std::size_t> rows;
    for (std::size_t i = 0; i < count; ++i) {
      if (wanted[i] && !simulated_[i]) rows.push_back(i);
    }
    return rows;
  }

  void simulate(std::vector<std::size_t> const& rows) {
    Eigen::MatrixXd u(numerics::index(rows.size()), points_.cols());
    for (std::size_t k = 0; k < rows.size(); ++k) {
      u.row(numerics::index(k)) = points_.row(numerics::index(rows[k]));
    }
    auto const draws = std::make_shared<uncertain::Draws const>(case_, stated_, u, threads_);
    auto found = uncertain::Samples(job_, draws).outcomes(threads_);
    for (std::size_t k = 0; k < rows.size(); ++k) {
      auto const row = rows[k];
      simulated_[row] = true;
      outcomes_[row] = std::move(found[k]);
      auto const safe = ensemble::conservative(outcomes_[row]);
      for (auto& q : quantities_) q.values.put(row, safe.*q.number.safe);
    }
  }

  process::Case const& case_;
  process::Case const& job_;
  uncertain::Stated const& stated_;
  Edges edges_;
  std::size_t threads_, first_;
  Eigen::MatrixXd points_;  ///< of all samples
  std::vector<ensemble::Outcome> outcomes_;
  std::vector<bool> simulated_;
  std::vector<Quantity> quantities_;
  bool foretold_ = false;
};

}  // namespace cure::decide::detail
