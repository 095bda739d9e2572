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

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "cure/fit/baseline.hpp"
#include "cure/fit/cup_test.hpp"
#include "cure/fit/fit_run.hpp"
#include "cure/fit/law.hpp"
#include "cure/fit/robust.hpp"
#include "cure/fit/sensitivity.hpp"
#include "cure/fit/streaming_qr.hpp"
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
                      SolveControl const& control) {
  detail::RunSystem<Scalar> const system{scheme.rate, plain.rate, run.programme};
  auto stops = run.programme.times();
  std::erase_if(stops, [&](double t) { return !(t > run.start && t < run.time.back()); });
  stops.push_back(run.time.back());
  auto const path =
      solve_with_sensitivities<Scalar>(system, std::span<Scalar const>(scheme.initial), run.start,
                                       stops, control, [](auto const&) { return false; });
  auto const n = run.time.size();
  Curve<Scalar> c{std::vector<Scalar>(n), std::vector<Scalar>(n), Scalar(1.0)};
  detail::rates_along<Scalar>(system, path, scheme.initial.size(), run.time, c.rate);
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
                                       Scheme<double> const& plain, SolveControl const& control) {
  std::vector<Curve<Scalar>> curves;
  curves.reserve(runs.size());
  Scalar heat(0.0);
  double ramps = 0.0;
  for (auto const& run : runs) {
    curves.push_back(predict(run, scheme, plain, control));
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

  static constexpr std::size_t alpha_switch = 7;  ///< among the parameters of a two-branch law

  [[nodiscard]] bool switch_held() const {
    return law.base == two_branch_base && std::ranges::count(free, alpha_switch) == 0;
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
    auto n = cups.size();
    for (auto const& run : runs) n += 2 * run.time.size();
    return n;
  }
};

/// Most parameters that one fit may leave free.
inline constexpr std::size_t max_free = 12;

namespace detail {

/// Both number types of a law at these values of the free parameters.
template <std::size_t N>
std::pair<Scheme<Dual<N>>, Scheme<double>> schemes(Problem const& problem,
                                                   std::span<double const> x) {
  std::vector<double> p = problem.parameters;
  for (std::size_t k = 0; k < x.size(); ++k) p[problem.free[k]] = x[k];
  std::vector<Dual<N>> d(p.begin(), p.end());
  for (std::size_t k = 0; k < x.size(); ++k) d[problem.free[k]] = Dual<N>::variable(x[k], k);
  auto const law = problem.solved();
  return {scheme_of(law, d.data()), scheme_of(law, p.data())};
}

/// Calls row(residual, derivatives) for each residual, runs first, rates before degrees of cure.
template <std::size_t N, class Row>
void each_residual(Problem const& problem, std::span<double const> x, Row const& row) {
  auto const both = schemes<N>(problem, x);
  auto const curves = predict_all<Dual<N>>(problem.runs, both.first, both.second, problem.control);
  for (std::size_t k = 0; k < curves.size(); ++k) {
    auto const& run = problem.runs[k];
    auto const& c = curves[k];
    double const rate_scale = run.rate_weight / run.peak;
    for (std::size_t i = 0; i < run.time.size(); ++i) {
      row(problem.compares_rate(run.alpha[i]) ? rate_scale * (c.rate[i] - Dual<N>(run.rate[i]))
                                              : Dual<N>(0.0));
    }
    for (std::size_t i = 0; i < run.time.size(); ++i) {
      row(run.alpha_weight * (c.alpha[i] - Dual<N>(run.alpha[i])));
    }
  }
  for (auto const& cup : problem.cups) {
    row(cup_residual(cup, both.first, both.second, problem.control));
  }
}

/// The smallest number type that holds the free parameters: fewer derivatives, less work.
template <class Use>
void with_duals(std::size_t free, Use const& use) {
  if (free <= 4) return use.template operator()<4>();
  if (free <= 6) return use.template operator()<6>();
  if (free <= max_free) return use.template operator()<max_free>();
  throw InputError("free parameters", std::to_string(free), "at most " + std::to_string(max_free));
}

}  // namespace detail

/// Plain residuals and their Jacobian, row by row: residuals() x free.size().
inline void evaluate(Problem const& problem, std::span<double const> x, std::span<double> r,
                     std::span<double> jacobian) {
  std::size_t i = 0;
  auto const p = x.size();
  detail::with_duals(p, [&]<std::size_t N>() {
    detail::each_residual<N>(problem, x, [&](Dual<N> const& v) {
      r[i] = v.value;
      for (std::size_t k = 0; k < p; ++k) jacobian[i * p + k] = v.derivative[k];
      ++i;
    });
  });
}

/// Robust residuals with Jacobian, compressed: the triangle of StreamingQr for [J r], (p+1) x
/// (p+1).
inline std::vector<double> evaluate_compressed(Problem const& problem, std::span<double const> x) {
  auto const p = x.size();
  StreamingQr qr(p + 1);
  detail::with_duals(p, [&]<std::size_t N>() {
    detail::each_residual<N>(problem, x, [&](Dual<N> const& v) {
      auto const e = robust(problem.loss, v.value, problem.loss_scale);
      qr.add_row([&](std::size_t k) { return k < p ? e.slope * v.derivative[k] : e.value; });
    });
  });
  return qr.triangle();
}

}  // namespace cure::fit
