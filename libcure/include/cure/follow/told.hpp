#pragma once
/// What rows tell of each thing that was not known, and of what the probe should read.

#include <cmath>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "cure/follow/fit.hpp"
#include "cure/follow/result.hpp"
#include "cure/uncertain/normal.hpp"

namespace cure::follow::detail {

/// The same numbers of rows before the readings and with them.
struct Twice {
  Eigen::VectorXd before, after;
};

/// @param equal rows before the readings, @param rows with them
/// @param scores what the spread of `values` is measured by
inline Unknown told_of(Unknown u, Twice const& values, Twice const& scores, Weighted const& equal,
                       Weighted const& rows) {
  auto const band = [](Eigen::VectorXd const& v, Eigen::VectorXd const& w) {
    WeightedValues const sorted(v, w);
    return Band{sorted.quantile(0.05, false), sorted.quantile(0.5, true),
                sorted.quantile(0.95, true)};
  };
  u.before = band(values.before, equal.weight);
  u.after = band(values.after, rows.weight);
  double const middle = scores.before.mean(), mean = rows.weight.dot(scores.after);
  double const sd = std::sqrt((scores.before.array() - middle).square().mean());
  u.moved = (mean - middle) / sd;
  u.kept = std::sqrt(rows.weight.dot((scores.after.array() - mean).square().matrix())) / sd;
  return u;
}

/// @param source where the stated ranges come from
inline std::vector<Unknown> told(Job const& job, Weighted const& equal, Weighted const& rows,
                                 std::string const& source) {
  std::vector<Unknown> found;
  auto const add = [&](Unknown u, Twice const& values, Twice const& scores) {
    found.push_back(told_of(std::move(u), values, scores, equal, rows));
  };
  auto const column = [&](Eigen::Index j) { return Twice{equal.x.col(j), rows.x.col(j)}; };
  for (Eigen::Index j = 0; j < job.input_count(); ++j) {
    auto const& input = job.inputs()[static_cast<std::size_t>(j)];
    auto const scores = column(j);
    auto const value = [&](double x) { return input.value(uncertain::normal_probability(x)); };
    bool const own = job.speed_assumed() && j + 1 == job.input_count();
    add({.name = input.name,
         .title = input.title,
         .unit = input.is_factor() ? "1" : "K",
         .source = own ? assumed : source},
        {scores.before.unaryExpr(value), scores.after.unaryExpr(value)}, scores);
  }
  if (job.has_constants()) {
    Twice const speed{job.speed(equal.x), job.speed(rows.x)};
    add({.name = "resin_speed",
         .title = "Speed of the resin's cure",
         .unit = "1",
         .source = "covariance of the resin"},
        speed, {speed.before.array().log(), speed.after.array().log()});
  }
  for (Eigen::Index j = 0; j < nuisance_count; ++j) {
    auto const& nuisance = nuisances[static_cast<std::size_t>(j)];
    bool const seconds = std::string(nuisance.unit) == "s";
    double const scale = nuisance.sd / (seconds ? 60.0 : 1.0);
    auto const scores = column(job.unknowns() + j);
    add({.name = nuisance.name,
         .title = nuisance.title,
         .unit = seconds ? "min" : nuisance.unit,
         .source = assumed},
        {scale * scores.before, scale * scores.after}, scores);
  }
  return found;
}

/// What the probe should read, from the moment at which the liner is held.
inline TemperatureBand temperatures(Known const& known, RowMatrix const& traces,
                                    Weighted const& rows) {
  TemperatureBand b;
  auto const n = (known.grid.array() >= known.job.held().first + 1.0).count();
  b.time = known.grid.tail(n);
  for (auto* p : {&b.p5, &b.p50, &b.p95}) p->resize(n);
  Eigen::VectorXd const probe = nuisances[0].sd * rows.x.col(known.job.unknowns());
  for (Eigen::Index i = 0; i < n; ++i) {
    numerics::may_stop(20 * static_cast<std::size_t>(traces.rows()));
    Eigen::VectorXd shown = traces.col(known.grid.size() - n + i) + probe;
    // A row that cannot be computed sorts last.
    for (double& T : shown) T = std::isnan(T) ? std::numeric_limits<double>::infinity() : T;
    WeightedValues const sorted(shown, rows.weight);
    b.p5(i) = sorted.quantile(0.05, true);
    b.p50(i) = sorted.quantile(0.5, true);
    b.p95(i) = sorted.quantile(0.95, true);
  }
  return b;
}

}  // namespace cure::follow::detail
