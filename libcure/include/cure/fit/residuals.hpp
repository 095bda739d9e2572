#pragma once
/// Residuals of a cure law on the rates and the degrees of cure of all runs at once, with their
/// exact sensitivities. The model's curve goes through the same baseline and the same normalisation
/// as the measured one (baseline.hpp), so a tail that the record cuts off biases neither.
///
/// For each point of a run, with d(alpha)/dt over the run's measured peak rate:
///   w_rate  (rate_model - rate_measured)/peak,   w_alpha (alpha_model - alpha_measured)
/// where both sides are over the run's own heat, or over a known total heat (isothermal runs). That
/// total may be the ramps': then it depends on the law as well, which says what share of its heat
/// each ramp's record shows.
///
/// What may be off in a run besides (FitRun::shapes, B theta with normal theta of variance 1) is
/// not solved for: residuals r are whitened by (I + B B')^-1/2, which leaves the same minimum and
/// the same curvature as if theta had been fitted with its prior.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "cure/fit/baseline.hpp"
#include "cure/fit/cup_test.hpp"
#include "cure/fit/fit_run.hpp"
#include "cure/fit/instrument.hpp"
#include "cure/fit/law.hpp"
#include "cure/fit/robust.hpp"
#include "cure/fit/run_curves.hpp"
#include "cure/fit/streaming_qr.hpp"

namespace cure::fit {

/// All data of a fit.
struct Problem {
  std::vector<FitRun> runs;
  std::vector<CupTest> cups;
  Law law;
  std::vector<double> parameters;  ///< all, as Law::parameters names them
  std::vector<std::size_t> free;   ///< which of them are fitted
  Loss loss = Loss::linear;
  double loss_scale = 1.0;
  SolveControl control;
  std::optional<LagPrior> lags;  ///< of the instrument, fitted after the free parameters

  /// How many numbers a fit varies: free parameters, then lags.
  [[nodiscard]] std::size_t varied() const { return free.size() + (lags ? 2 : 0); }

  static constexpr std::size_t alpha_switch = 7;  ///< among the parameters of a two-branch law

  [[nodiscard]] bool switch_held() const {
    return law.base == two_branch_base && std::count(free.begin(), free.end(), alpha_switch) == 0;
  }

  /// Whether the rate at a measured degree of cure is compared. Not where a held switch jumps:
  /// noise decides there which branch a point belongs to, and each would be pulled off by the
  /// other's.
  [[nodiscard]] bool compares_rate(double alpha) const {
    return !switch_held() || std::abs(alpha - parameters[alpha_switch]) > 0.01;
  }

  [[nodiscard]] Law solved() const {
    Law out = law;
    if (switch_held()) out.width = held_switch_width(parameters[alpha_switch]);
    return out;
  }

  [[nodiscard]] std::size_t residuals() const {
    auto n = cups.size() + (lags ? 2 : 0);
    for (auto const& run : runs) n += 2 * run.time.size();
    return n;
  }
};

/// Most parameters that one fit may leave free.
inline constexpr std::size_t max_free = 12;
/// Most that it varies, with lags of the instrument.
inline constexpr std::size_t max_varied = max_free + 2;

namespace detail {

/// Both number types of a law at these values of the free parameters.
template <std::size_t N>
std::pair<Scheme<Dual<N>>, Scheme<double>> schemes(Problem const& problem,
                                                   std::span<double const> x) {
  std::vector<double> p = problem.parameters;
  auto const fitted = problem.free.size();
  for (std::size_t k = 0; k < fitted; ++k) p[problem.free[k]] = x[k];
  std::vector<Dual<N>> d(p.begin(), p.end());
  for (std::size_t k = 0; k < fitted; ++k) d[problem.free[k]] = Dual<N>::variable(x[k], k);
  auto const law = problem.solved();
  return {scheme_of(law, d.data()), scheme_of(law, p.data())};
}

/// A run's residuals, rates before degrees of cure.
template <std::size_t N>
std::vector<Dual<N>> run_residuals(Problem const& problem, FitRun const& run,
                                   Curve<Dual<N>> const& c) {
  std::vector<Dual<N>> r;
  r.reserve(2 * run.time.size());
  double const rate_scale = run.rate_weight / run.peak;
  for (std::size_t i = 0; i < run.time.size(); ++i) {
    r.push_back(problem.compares_rate(run.alpha[i])
                    ? rate_scale * (c.rate[i] - Dual<N>(run.rate[i]))
                    : Dual<N>(0.0));
  }
  for (std::size_t i = 0; i < run.time.size(); ++i) {
    r.push_back(run.alpha_weight * (c.alpha[i] - Dual<N>(run.alpha[i])));
  }
  for (std::size_t i = 0; i < run.offset.size(); ++i) r[i] += Dual<N>(run.offset[i]);
  return r;
}

/// Takes from a run's residuals what its shapes may explain, as far as their prior lets them.
template <std::size_t N>
void whiten(FitRun const& run, std::vector<Dual<N>>& r) {
  auto const shapes = run.shrink.size();
  std::vector<Dual<N>> part(shapes, Dual<N>(0.0));
  for (std::size_t i = 0; i < r.size(); ++i) {
    for (std::size_t k = 0; k < shapes; ++k) part[k] += run.shapes[i * shapes + k] * r[i];
  }
  for (std::size_t k = 0; k < shapes; ++k) part[k] *= Dual<N>(run.shrink[k]);
  for (std::size_t i = 0; i < r.size(); ++i) {
    for (std::size_t k = 0; k < shapes; ++k) r[i] -= run.shapes[i * shapes + k] * part[k];
  }
}

/// Calls row(residual, derivatives) for each residual: runs, cups, priors of the lags.
/// @param white whether residuals of runs are whitened
template <std::size_t N, class Row>
void each_residual(Problem const& problem, std::span<double const> x, bool white, Row const& row) {
  auto const both = schemes<N>(problem, x);
  auto const first = problem.free.size();
  Lag<Dual<N>> lag;
  if (problem.lags) {
    lag = {Dual<N>::variable(x[first], first), Dual<N>::variable(x[first + 1], first + 1)};
  }
  auto const curves = predict_all<Dual<N>>(problem.runs, both.first, both.second, problem.control,
                                           problem.lags ? &lag : nullptr);
  for (std::size_t k = 0; k < curves.size(); ++k) {
    auto r = run_residuals(problem, problem.runs[k], curves[k]);
    if (white && !problem.runs[k].shrink.empty()) whiten(problem.runs[k], r);
    for (auto const& v : r) row(v);
  }
  for (auto const& cup : problem.cups) {
    row(cup_residual(cup, both.first, both.second, problem.control));
  }
  if (problem.lags) {
    auto const& [mean, deviation] = *problem.lags;
    row((1.0 / deviation[0]) * (lag.time_constant - Dual<N>(mean[0])));
    row((1.0 / deviation[1]) * (lag.thermal - Dual<N>(mean[1])));
  }
}

/// The smallest number type that holds the free parameters: fewer derivatives, less work.
template <class Use>
void with_duals(std::size_t free, Use const& use) {
  if (free <= 4) return use.template operator()<4>();
  if (free <= 6) return use.template operator()<6>();
  if (free <= 8) return use.template operator()<8>();
  if (free <= max_varied) return use.template operator()<max_varied>();
  throw InputError("free parameters", std::to_string(free),
                   "at most " + std::to_string(max_free) + " and two lags");
}

}  // namespace detail

/// Plain residuals and their Jacobian, row by row: residuals() x varied().
inline void evaluate(Problem const& problem, std::span<double const> x, std::span<double> r,
                     std::span<double> jacobian) {
  std::size_t i = 0;
  auto const p = x.size();
  detail::with_duals(p, [&]<std::size_t N>() {
    detail::each_residual<N>(problem, x, false, [&](Dual<N> const& v) {
      r[i] = v.value;
      for (std::size_t k = 0; k < p; ++k) jacobian[i * p + k] = v.derivative[k];
      ++i;
    });
  });
}

/// Whitened robust residuals with Jacobian, compressed: the triangle of StreamingQr for [J r],
/// (p+1) x (p+1).
inline std::vector<double> evaluate_compressed(Problem const& problem, std::span<double const> x) {
  auto const p = x.size();
  StreamingQr qr(p + 1);
  detail::with_duals(p, [&]<std::size_t N>() {
    detail::each_residual<N>(problem, x, true, [&](Dual<N> const& v) {
      auto const e = robust(problem.loss, v.value, problem.loss_scale);
      qr.add_row([&](std::size_t k) { return k < p ? e.slope * v.derivative[k] : e.value; });
    });
  });
  return qr.triangle();
}

}  // namespace cure::fit
