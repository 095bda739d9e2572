#pragma once
/// Pot-life data: the time to gel of a cup of mixed resin, which heats itself, or of a thin film at
/// the temperature around it. The model's time is where the degree of cure reaches the gel point.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include "cure/fit/law.hpp"
#include "cure/fit/sensitivity.hpp"

namespace cure::fit {

/// One gel time, and what decides it.
struct CupTest {
  double gel_time = 0.0;           ///< observed, from mixing [s]
  double start_temperature = 0.0;  ///< of the mix [K]
  double ambient = 0.0;            ///< [K]
  double loss =
      0.0;  ///< surface conductance h A over m c_p [1/s]; 0 adiabatic; infinite: a film at ambient
  double rise = 0.0;            ///< adiabatic rise H/c_p [K]
  double alpha_gel = 0.0;       ///< degree of cure at the gel point [-]
  double relative_error = 0.1;  ///< standard deviation of the observed time over the time [-]
};

namespace detail {

/// States: T, then those of the cure scheme.
template <class Scalar>
struct CupSystem {
  kinetics::CureRate<Scalar> const& rate;
  kinetics::CureRate<double> const& plain;
  CupTest const& cup;

  [[nodiscard]] bool film() const { return std::isinf(cup.loss); }
  void slopes(double /*t*/, Scalar const* y, Scalar* f) const {
    rate.slopes(y[0], y + 1, f + 1);
    f[0] = film() ? Scalar(0.0) : cup.rise * f[1] - cup.loss * (y[0] - Scalar(cup.ambient));
  }
  void linearise(double /*t*/, double const* y, StatesJacobian& J, double* /*f_t*/) const {
    auto const s = plain.at(y[0], y + 1);
    for (std::size_t i = 0; i < kinetics::max_states; ++i) {
      J[i + 1][0] = s.dT[i];
      std::copy(s.dx[i].begin(), s.dx[i].end(), J[i + 1].begin() + 1);
    }
    if (film()) return;
    J[0][0] = cup.rise * s.dT[0] - cup.loss;
    for (std::size_t k = 0; k < kinetics::max_states; ++k) J[0][k + 1] = cup.rise * s.dx[0][k];
  }
};

}  // namespace detail

/// Residual ln(model's gel time / observed) over its standard deviation. A model that has not
/// gelled after 30 times the observed time counts as that, plus what it lacks, so that the fit
/// knows the way back.
template <class Scalar>
Scalar cup_residual(CupTest const& cup, Scheme<Scalar> const& scheme, Scheme<double> const& plain,
                    SolveControl const& control) {
  detail::CupSystem<Scalar> const system{scheme.rate, plain.rate, cup};
  std::vector<Scalar> y0{Scalar(std::isinf(cup.loss) ? cup.ambient : cup.start_temperature)};
  y0.insert(y0.end(), scheme.initial.begin(), scheme.initial.end());
  double const end = 30.0 * cup.gel_time;
  auto const path = solve_with_sensitivities<Scalar>(
      system, y0, 0.0, {end}, control,
      [&](States<Scalar> const& y) { return value_of(y[1]) >= cup.alpha_gel; });
  Scalar const last = path.state.back()[1];
  if (value_of(last) < cup.alpha_gel) {
    return (Scalar(std::log(end / cup.gel_time)) + 10.0 * (Scalar(cup.alpha_gel) - last)) /
           Scalar(cup.relative_error);
  }
  // Close in on the crossing inside the last step, then one Newton step with the sensitivities.
  auto const i = path.time.size() - 2;
  double low = path.time[i], high = path.time[i + 1];
  for (int k = 0; k < 60; ++k) {
    double const middle = 0.5 * (low + high);
    (value_of(path.within(middle, 1, i)) < cup.alpha_gel ? low : high) = middle;
  }
  Scalar const alpha = path.within(high, 1, i);
  std::array<Scalar, max_solve_states> y{}, f{};
  for (std::size_t k = 0; k < y0.size(); ++k) y[k] = path.within(high, k, i);
  system.slopes(high, y.data(), f.data());
  Scalar const t = Scalar(high) - (alpha - Scalar(cup.alpha_gel)) / Scalar(value_of(f[1]));
  return log(t / Scalar(cup.gel_time)) / Scalar(cup.relative_error);
}

}  // namespace cure::fit
