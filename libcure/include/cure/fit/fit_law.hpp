#pragma once
/// A whole fit of one law in one call: from records of a calorimeter and times to gel to constants
/// with their covariance (law_covariance.hpp says what is in it).
///
///     auto const run = fit::run_of({time, temperature, heat_flow, windows});   // one a record
///     auto const found = fit::fit_law(fit::Law{}, {run, ...});
///     resin.rate = found.scheme.rate;
///
/// The least sum of squares (residuals.hpp) between the law's bounds, from several starts drawn
/// where its constants are looked for (numerics/least_squares.hpp). `libcure fit` compares laws,
/// fits the instrument too and counts what a law misses: its intervals are wider.

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/fit/law_covariance.hpp"
#include "cure/fit/record_run.hpp"
#include "cure/fit/residuals.hpp"
#include "cure/numerics/least_squares.hpp"
#include "cure/numerics/maps.hpp"
#include "cure/numerics/run_control.hpp"
#include "cure/units.hpp"

namespace cure::fit {

struct LawFit {
  std::vector<FitParameter> parameters;  ///< name, unit and bounds of each constant
  Eigen::VectorXd value;                 ///< of each, as `parameters` says: ln k, E [J/mol], orders
  Eigen::MatrixXd covariance;            ///< of them
  Scheme<double> scheme;                 ///< the law with these constants
  double T_ref = 0.0;                    ///< temperature of the rate constants [K]
  double cost = 0.0;                     ///< half the sum of squared residuals
  std::size_t same = 0, starts = 0;      ///< starts that came within 1 % of the least cost

  [[nodiscard]] double standard_error(Eigen::Index i) const { return std::sqrt(covariance(i, i)); }
};

struct LawFitOptions {
  std::optional<double> E;      ///< activation energy to start around [J/mol]
  std::optional<double> T_ref;  ///< [K]; else the middle of the data
  std::size_t starts = 16;
  std::uint64_t seed = 1;
};

namespace detail {

/// Temperatures and rates where runs peak and cups gel: (T [K], rate constant to be expected there
/// [1/s]).
inline std::vector<std::pair<double, double>> places(Problem const& p) {
  std::vector<std::pair<double, double>> out;
  for (auto const& run : p.runs) {
    auto const largest = std::max_element(run.rate.begin(), run.rate.end());
    auto const i = static_cast<std::size_t>(largest - run.rate.begin());
    out.emplace_back(run.programme.at(run.time[i]), 2.0 * run.peak);
  }
  for (auto const& cup : p.cups) out.emplace_back(cup.start_temperature, 2.0 / cup.gel_time);
  return out;
}

/// Half the width of a box of one value, which has no place between its sides.
inline std::pair<double, double> widened(double low, double high) {
  double const slack = high > low ? 0.0 : 1e-9 * (1.0 + std::abs(low));
  return {low - slack, high + slack};
}

/// The search in shares of the box of bounds, 0 to 1.
class LawSearch {
 public:
  /// @param ln_k of the rate constant to be expected at T_ref, from which the law's bounds count
  LawSearch(Problem const& p, std::vector<FitParameter> const& parameters, double ln_k,
            std::optional<double> E)
      : problem_(p), low_(p.free.size()), width_(low_), from_(low_), span_(low_) {
    for (Eigen::Index k = 0; k < low_.size(); ++k) {
      auto const& q = parameters[static_cast<std::size_t>(k)];
      double const base = q.unit == "1/s" ? ln_k : 0.0;
      bool const energy = E && q.unit == "kJ/mol";
      low_(k) = q.low + base;
      width_(k) = q.high - q.low;
      from_(k) = ((energy ? 0.75 * *E : q.start_low + base) - low_(k)) / width_(k);
      span_(k) = (energy ? 0.6 * *E : q.start_high - q.start_low) / width_(k);
    }
  }

  [[nodiscard]] std::vector<double> constants(Eigen::VectorXd const& share) const {
    Eigen::VectorXd const x = low_ + width_.cwiseProduct(share);
    return {x.begin(), x.end()};
  }

  /// A start, drawn.
  [[nodiscard]] Eigen::VectorXd start(std::mt19937_64& random) const {
    Eigen::VectorXd x = from_;
    for (auto k = 0; k < x.size(); ++k) {
      x(k) += span_(k) * std::ldexp(static_cast<double>(random() >> 11), -53);
    }
    return x;
  }

  /// @throws SolverError where the law cannot be solved, numerics::Stopped
  [[nodiscard]] numerics::LeastSquares from(Eigen::VectorXd const& start) {
    auto const n = low_.size();
    return numerics::least_squares(
        [&](Eigen::VectorXd const& x) -> Eigen::VectorXd { return at(x).col(n); },
        [&](Eigen::VectorXd const& x) -> Eigen::MatrixXd { return at(x).leftCols(n); }, start, 0.0,
        1.0, {1e-9, 1e-10, 1e-10, 200});
  }

 private:
  /// Residuals and slopes in one triangle, up to a rotation that no step of the search sees.
  Eigen::MatrixXd const& at(Eigen::VectorXd const& share) {
    auto const n = low_.size();
    if (held_.size() == n && held_ == share) return triangle_;
    numerics::may_stop(problem_.residuals());
    auto const R = evaluate_compressed(problem_, constants(share));
    triangle_ = Eigen::Map<numerics::RowMatrix const>(R.data(), n + 1, n + 1);
    triangle_.leftCols(n) *= width_.asDiagonal();
    held_ = share;
    return triangle_;
  }

  Problem const& problem_;
  Eigen::VectorXd low_, width_, from_, span_, held_;
  Eigen::MatrixXd triangle_;
};

}  // namespace detail

/// Fits all constants of a law.
/// @param law its T_ref is that of the options
/// @param runs from run_of; @param cups times to gel, each weighed by its own error
/// @throws InputError for too little data or a law with too many constants, numerics::Stopped
inline LawFit fit_law(Law law, std::vector<FitRun> runs, std::vector<CupTest> cups = {},
                      LawFitOptions const& options = {}) {
  Problem p;
  p.runs = std::move(runs);
  p.cups = std::move(cups);
  auto const places = detail::places(p);
  if (places.empty()) throw InputError("runs", "none", "one or more, or times to gel");
  double middle = 0.0;
  for (auto const& [T, k] : places) middle += T / static_cast<double>(places.size());
  LawFit out;
  law.T_ref = out.T_ref = options.T_ref.value_or(std::round(middle));
  p.law = law;
  out.parameters = law.parameters();
  auto const n = out.parameters.size();
  if (p.runs.empty() && p.cups.size() < n) {
    throw InputError("cups", std::to_string(p.cups.size()),
                     std::to_string(n) + " or more for as many constants, or runs beside them");
  }
  if (options.starts == 0) throw InputError("starts", "0", "one or more");
  p.parameters.assign(n, 0.0);
  for (std::size_t i = 0; i < n; ++i) p.free.push_back(i);

  std::vector<double> expected;
  for (auto const& [T, k] : places) {
    double const E = options.E.value_or(60e3);
    expected.push_back(std::log(k) + E / gas_constant * (1.0 / T - 1.0 / out.T_ref));
  }
  std::sort(expected.begin(), expected.end());
  detail::LawSearch search(p, out.parameters, expected[expected.size() / 2], options.E);
  std::mt19937_64 random(options.seed);
  std::optional<numerics::LeastSquares> best;
  std::vector<double> costs;
  for (out.starts = 0; out.starts < options.starts; ++out.starts) {
    try {
      auto found = search.from(search.start(random));
      costs.push_back(found.cost);
      if (!best || found.cost < best->cost) best = std::move(found);
    } catch (SolverError const&) {  // a start from which the law cannot be solved
    }
  }
  if (!best)
    throw InputError("runs", "no start could be solved", "data that the law may have made");
  out.cost = best->cost;
  out.same = static_cast<std::size_t>(
      std::count_if(costs.begin(), costs.end(), [&](double c) { return c <= 1.01 * best->cost; }));
  auto const x = search.constants(best->x);
  out.value = numerics::vector_map(x);
  out.scheme = scheme_of(law, x.data());
  out.covariance = detail::covariance_of(p, x);
  return out;
}

}  // namespace cure::fit
