#pragma once
/// What an instrument makes of a sample's heat flow, as far as a fit estimates it from the data:
///   thermal lag      the sample follows the recorded programme later: T_sample(t) = T(t - lag)
///   time constant    the signal follows the heat flow y: tau dq/dt + q = y
/// Both are shared by all runs. They act alike to first order, and are told apart by the width of
/// fast peaks; priors hold what the data leave open.

#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "cure/scalar.hpp"

namespace cure::fit {

/// Lags of an instrument, as numbers a fit may vary.
template <class Scalar>
struct Lag {
  Scalar time_constant{0.0};  ///< of the signal [s]
  Scalar thermal{0.0};        ///< of the sample behind its programme [s]
};

/// What is known of the lags before a fit: mean and standard deviation, as in Lag [s].
struct LagPrior {
  std::array<double, 2> mean{}, deviation{};
};

/// A number that is 0 and carries the derivatives of x.
template <class Scalar>
Scalar only_derivative(Scalar const& x) {
  return x - Scalar(value_of(x));
}

/// Delays a signal by a first-order response, exactly for one that is straight between its points;
/// it begins settled.
/// @param time [s], ascending
template <class Scalar>
void respond(std::span<double const> time, Scalar const& time_constant, std::span<Scalar> signal) {
  double const tau = value_of(time_constant);
  if (tau < 0.0 || time.empty()) return;
  Scalar const free = only_derivative(time_constant);
  double known = -1.0, kept = 0.0, mean = 0.0, kept_slope = 0.0, mean_slope = 0.0;
  Scalar before = signal[0], y = signal[0];
  for (std::size_t i = 1; i < time.size(); ++i) {
    double const h = time[i] - time[i - 1];
    if (h != known) {
      known = h;
      // y_1 = kept y_0 + (mean - kept) u_0 + (1 - mean) u_1
      kept = tau > 0.0 ? std::exp(-h / tau) : 0.0;
      mean = tau * (1.0 - kept) / h;
      kept_slope = tau > 0.0 ? kept * h / (tau * tau) : 0.0;
      mean_slope = (1.0 - kept) / h - (tau > 0.0 ? kept / tau : 0.0);
    }
    Scalar const now = signal[i];
    double const u0 = value_of(before);
    double const slope = kept_slope * (value_of(y) - u0) + mean_slope * (u0 - value_of(now));
    y = kept * y + (mean - kept) * before + (1.0 - mean) * now + slope * free;
    before = now;
    signal[i] = y;
  }
}

/// Adds to a signal what its derivative with a delay is: a later signal is lower where it rises.
template <class Scalar>
void carry_delay(std::span<double const> time, Scalar const& delay, std::span<Scalar> signal) {
  Scalar const free = only_derivative(delay);
  auto const n = time.size();
  if (n < 3) return;
  std::vector<double> slope(n);
  for (std::size_t i = 0; i < n; ++i) {
    auto const a = i == 0 ? 0 : i - 1, b = i + 1 == n ? i : i + 1;
    slope[i] = (value_of(signal[b]) - value_of(signal[a])) / (time[b] - time[a]);
  }
  for (std::size_t i = 0; i < n; ++i) signal[i] -= slope[i] * free;
}

}  // namespace cure::fit
