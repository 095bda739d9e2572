#pragma once
/// What a law predicts for runs of a calorimeter: rate and degree of cure at their points, seen
/// through the instrument's lags (instrument.hpp), the run's own baseline and its normalisation, as
/// the measured ones are.

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "cure/fit/fit_run.hpp"
#include "cure/fit/instrument.hpp"
#include "cure/fit/law.hpp"
#include "cure/fit/sensitivity.hpp"
#include "cure/numerics/schedule.hpp"

namespace cure::fit {

namespace detail {

template <class Scalar>
struct RunSystem {
  kinetics::CureRate<Scalar> const& rate;
  kinetics::CureRate<double> const& plain;
  numerics::Schedule const& programme;

  void slopes(double t, Scalar const* y, Scalar* f) const {
    rate.slopes(Scalar(programme.at(t)), y, f);
  }
  void linearise(double t, double const* y, StatesJacobian& J, double* f_t) const {
    auto const s = plain.at(programme.at(t), y);
    double const slope = programme.slope(t);
    for (std::size_t i = 0; i < kinetics::max_states; ++i) {
      f_t[i] = s.dT[i] * slope;
      std::copy(s.dx[i].begin(), s.dx[i].end(), J[i].begin());
    }
  }
};

/// Where the rate is taken inside a step, 0 to 1: the extrema of a Chebyshev polynomial, between
/// which interpolation is all but the best there is (e.g. J.-P. Berrut, L.N. Trefethen, SIAM Review
/// 46, 501, 2004).
inline constexpr std::array<double, 7> nodes_of_step{0.0,  0.0669872981077806589, 0.25, 0.5,
                                                     0.75, 0.933012701892219341,  1.0};

/// Weights of the values at the nodes for the value at s.
inline std::array<double, 7> node_weights(double s) {
  // 1/product of (node - other nodes), times the product of (s - other nodes) from both sides.
  constexpr double c = 1024.0 / 3.0;
  constexpr std::array<double, 7> scale{0.5 * c, -c, c, -c, c, -c, 0.5 * c};
  std::array<double, 7> w = scale;
  double left = 1.0, right = 1.0;
  for (std::size_t j = 0; j < 7; ++j) {
    w[j] *= left;
    left *= s - nodes_of_step[j];
    w[6 - j] *= right;
    right *= s - nodes_of_step[6 - j];
  }
  return w;
}

/// The law's rate along a path at ascending times. A step that holds many of them gets the rate
/// from a polynomial through seven points of the step: the law is the costly part, and smooth
/// inside a step.
template <class Scalar, class System>
void rates_along(System const& system, Path<Scalar> const& path, std::size_t states,
                 std::span<double const> time, std::span<Scalar> rate) {
  auto const rate_at = [&](double t, std::size_t step) {
    States<Scalar> y{}, f{};
    for (std::size_t k = 0; k < states; ++k) y[k] = path.within(t, k, step);
    system.slopes(t, y.data(), f.data());
    return f[0];
  };
  std::size_t step = 0;
  for (std::size_t i = 0; i < time.size();) {
    while (step + 2 < path.time.size() && path.time[step + 1] < time[i]) ++step;
    double const t0 = path.time[step], h = path.time[step + 1] - t0;
    auto end = i + 1;
    while (end < time.size() && time[end] <= t0 + h) ++end;
    if (end - i <= 6) {
      for (; i < end; ++i) rate[i] = rate_at(time[i], step);
      continue;
    }
    std::array<Scalar, 7> nodes{path.slope[step][0]};
    for (std::size_t j = 1; j < 6; ++j) nodes[j] = rate_at(t0 + nodes_of_step[j] * h, step);
    nodes[6] = path.slope[step + 1][0];
    for (; i < end; ++i) {
      auto const w = node_weights((time[i] - t0) / h);
      Scalar sum = w[0] * nodes[0];
      for (std::size_t j = 1; j < 7; ++j) sum += w[j] * nodes[j];
      rate[i] = sum;
    }
  }
}

}  // namespace detail

/// What a law predicts for a run.
template <class Scalar>
struct Curve {
  std::vector<Scalar> rate, alpha;  ///< after baseline and normalisation, as the measured ones
  Scalar share{1.0};  ///< of the model's whole heat that the record shows above its baseline [-]
};

template <class Scalar>
Curve<Scalar> predict(FitRun const& run, Scheme<Scalar> const& scheme, Scheme<double> const& plain,
                      SolveControl const& control, Lag<Scalar> const* lag = nullptr) {
  detail::RunSystem<Scalar> const system{scheme.rate, plain.rate, run.programme};
  auto stops = run.programme.times();
  double const delay = lag != nullptr && run.lags ? value_of(lag->thermal) : 0.0;
  double const end = run.time.back() + std::max(-delay, 0.0);
  std::erase_if(stops, [&](double t) { return !(t > run.start && t < end); });
  stops.push_back(end);
  auto const path =
      solve_with_sensitivities<Scalar>(system, std::span<Scalar const>(scheme.initial), run.start,
                                       stops, control, [](auto const&) { return false; });
  auto const n = run.time.size();
  Curve<Scalar> c{std::vector<Scalar>(n), std::vector<Scalar>(n), Scalar(1.0)};
  auto time = run.time;
  if (delay != 0.0) {
    for (auto& t : time) t = std::max(t - delay, run.start);
  }
  detail::rates_along<Scalar>(system, path, scheme.initial.size(), time, c.rate);
  if (lag != nullptr) {
    if (run.lags) carry_delay<Scalar>(run.time, lag->thermal, c.rate);
    respond<Scalar>(run.time, lag->time_constant, c.rate);
  }
  run.baseline.subtract(std::span(c.rate));
  integrate(run.time, std::span<Scalar const>(c.rate), std::span(c.alpha));
  c.share = c.alpha.back();
  if (run.own_heat) {
    // A law that does not react within the run must not divide by nothing.
    Scalar const total = value_of(c.share) > 1e-6 ? c.share : Scalar(1e-6);
    Scalar const scale = Scalar(1.0) / total;
    for (std::size_t i = 0; i < n; ++i) c.rate[i] *= scale, c.alpha[i] *= scale;
  }
  return c;
}

/// Share of a ramp's heat below which a law on its way is not divided by it.
inline constexpr double least_share = 0.1;

/// The curves of all runs. Measured values of a run that counts on the ramps' heat stay over one
/// heat, so its curve carries the ratio of what the ramps tell (the mean of each one's heat over
/// the share shown, under this law) to that heat.
template <class Scalar>
std::vector<Curve<Scalar>> predict_all(std::span<FitRun const> runs, Scheme<Scalar> const& scheme,
                                       Scheme<double> const& plain, SolveControl const& control,
                                       Lag<Scalar> const* lag = nullptr) {
  std::vector<Curve<Scalar>> curves;
  curves.reserve(runs.size());
  Scalar heat(0.0);
  double ramps = 0.0;
  for (auto const& run : runs) {
    curves.push_back(predict(run, scheme, plain, control, lag));
    if (!run.tells_heat) continue;
    auto const& share = curves.back().share;
    heat += Scalar(run.heat) / (value_of(share) > least_share ? share : Scalar(least_share));
    ramps += 1.0;
  }
  for (std::size_t k = 0; k < runs.size() && ramps > 0.0; ++k) {
    if (!runs[k].on_ramps) continue;
    Scalar const ratio = (1.0 / (ramps * runs[k].total_heat)) * heat;
    for (auto& v : curves[k].rate) v *= ratio;
    for (auto& v : curves[k].alpha) v *= ratio;
  }
  return curves;
}

}  // namespace cure::fit
