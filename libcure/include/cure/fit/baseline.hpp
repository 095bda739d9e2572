#pragma once
/// Baselines of a calorimeter's record, and the degree of cure that follows. Each is a curve
/// between a straight piece of signal before the reaction and one after it (means and slopes of
/// lines through two windows), so it is linear in the signal:
///   b(t) = B0(t) mean_L + B1(t) slope_L + B2(t) mean_R + B3(t) slope_R
/// linear                straight from window to window
/// tangential sigmoidal  (1-alpha) left tangent + alpha right tangent, alpha iterated (e.g. W.F.
///                       Hemminger, S.M. Sarge, J. Therm. Anal. 37, 1455, 1991, from memory)
/// spline                cubic through both windows with their slopes
/// level                 the mean after the reaction, for isothermal runs
/// tangent before/after  the line through one window, where the record lacks the other
/// Being linear, a baseline can be taken from a model's curve just as from the measured one; the
/// fit compares both after the same treatment, so that what a baseline cuts off does not bias it.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/fit/dsc.hpp"
#include "cure/numerics/hermite.hpp"

namespace cure::fit {

enum class BaselineKind {
  linear,
  tangential_sigmoidal,
  spline,
  level,
  tangent_before,
  tangent_after
};

/// Where the signal is straight, by time [s].
struct Windows {
  double left_from = 0.0, left_to = 0.0;    ///< before the reaction
  double right_from = 0.0, right_to = 0.0;  ///< after it
};

class Baseline {
 public:
  using Basis = std::array<double, 4>;

  /// @param time [s], ascending; the record from the first window's begin to the last one's end
  /// @throws InputError when a window holds fewer than three points or the windows overlap
  Baseline(BaselineKind kind, std::span<double const> time, Windows const& w)
      : kind_(kind), basis_(time.size()) {
    bool const before = kind != BaselineKind::level && kind != BaselineKind::tangent_after;
    bool const after = kind != BaselineKind::tangent_before;
    left_ = window(time, w.left_from, w.left_to, before, "left");
    right_ = window(time, w.right_from, w.right_to, after, "right");
    if (before && after && right_.from < left_.to) {
      throw InputError("baseline.windows", "overlapping", "the left one before the right one");
    }
    set_basis(time, {});
  }

  /// (mean, slope) of lines through both windows of a signal.
  template <class Scalar>
  [[nodiscard]] std::array<Scalar, 4> ends(std::span<Scalar const> signal) const {
    std::array<Scalar, 4> e{};
    accumulate(left_, signal, e[0], e[1]);
    accumulate(right_, signal, e[2], e[3]);
    return e;
  }

  /// Takes the signal's own baseline from it.
  template <class Scalar>
  void subtract(std::span<Scalar> signal) const {
    auto const e = ends(std::span<Scalar const>(signal));
    for (std::size_t i = 0; i < signal.size(); ++i) {
      auto const& b = basis_[i];
      signal[i] -= b[0] * e[0] + b[1] * e[1] + b[2] * e[2] + b[3] * e[3];
    }
  }

  /// Shapes the sigmoidal baseline by a degree of cure; the other kinds do not change.
  void set_basis(std::span<double const> time, std::span<double const> alpha) {
    double const tl = left_.centre, tr = right_.centre;
    for (std::size_t i = 0; i < time.size(); ++i) {
      double const t = time[i];
      switch (kind_) {
        case BaselineKind::linear:
          basis_[i] = {(tr - t) / (tr - tl), 0.0, (t - tl) / (tr - tl), 0.0};
          break;
        case BaselineKind::tangential_sigmoidal: {
          double const a = alpha.empty() ? (t - tl) / (tr - tl) : alpha[i];
          double const s = std::clamp(a, 0.0, 1.0);
          basis_[i] = {1.0 - s, (1.0 - s) * (t - tl), s, s * (t - tr)};
          break;
        }
        case BaselineKind::spline: {
          auto const h = numerics::hermite_weights(tl, tr, std::clamp(t, tl, tr));
          basis_[i] = {h.y0, h.f0 + std::min(t - tl, 0.0), h.y1, h.f1 + std::max(t - tr, 0.0)};
          break;
        }
        case BaselineKind::level: basis_[i] = {0.0, 0.0, 1.0, 0.0}; break;
        case BaselineKind::tangent_before: basis_[i] = {1.0, t - tl, 0.0, 0.0}; break;
        case BaselineKind::tangent_after: basis_[i] = {0.0, 0.0, 1.0, t - tr}; break;
      }
    }
  }

  [[nodiscard]] BaselineKind kind() const { return kind_; }
  [[nodiscard]] std::vector<Basis> const& basis() const { return basis_; }
  /// Weights over the points that give (mean, slope) of a window: 0 left, 1 right.
  [[nodiscard]] std::pair<std::vector<double>, std::vector<double>> functional(
      std::size_t side) const {
    auto const& w = side == 0 ? left_ : right_;
    std::vector<double> mean(basis_.size(), 0.0), slope(basis_.size(), 0.0);
    for (std::size_t i = w.from; i < w.to; ++i) mean[i] = w.mean, slope[i] = w.slope[i - w.from];
    return {std::move(mean), std::move(slope)};
  }

 private:
  struct Window {
    std::size_t from = 0, to = 0;
    double centre = 0.0, mean = 0.0;
    std::vector<double> slope;  ///< weights of the slope
  };

  static Window window(std::span<double const> time, double from, double to, bool needed,
                       char const* side) {
    Window w;
    if (!needed) return w;
    auto const index = [&](auto at) { return static_cast<std::size_t>(at - time.begin()); };
    w.from = index(std::lower_bound(time.begin(), time.end(), from));
    w.to = index(std::upper_bound(time.begin(), time.end(), to));
    if (w.to < w.from + 3) {
      throw InputError(std::string("baseline.") + side,
                       std::to_string(from) + " to " + std::to_string(to) + " s",
                       "a window with three points or more");
    }
    auto const n = static_cast<double>(w.to - w.from);
    for (std::size_t i = w.from; i < w.to; ++i) w.centre += time[i] / n;
    double tt = 0.0;
    for (std::size_t i = w.from; i < w.to; ++i) {
      tt += (time[i] - w.centre) * (time[i] - w.centre);
    }
    w.mean = 1.0 / n;
    for (std::size_t i = w.from; i < w.to; ++i) w.slope.push_back((time[i] - w.centre) / tt);
    return w;
  }

  template <class Scalar>
  static void accumulate(Window const& w, std::span<Scalar const> signal, Scalar& mean,
                         Scalar& slope) {
    mean = Scalar(0.0);
    slope = Scalar(0.0);
    for (std::size_t i = w.from; i < w.to; ++i) {
      mean += signal[i];
      slope += w.slope[i - w.from] * signal[i];
    }
    mean *= w.mean;
  }

  BaselineKind kind_;
  Window left_, right_;
  std::vector<Basis> basis_;
};

/// Running integral by trapezia; the first is 0.
template <class Scalar>
void integrate(std::span<double const> time, std::span<Scalar const> rate,
               std::span<Scalar> integral) {
  Scalar sum(0.0);
  integral[0] = sum;
  for (std::size_t i = 1; i < time.size(); ++i) {
    sum += (0.5 * (time[i] - time[i - 1])) * (rate[i - 1] + rate[i]);
    integral[i] = sum;
  }
}

/// A record after its baseline.
struct Reaction {
  Baseline baseline;
  std::vector<double> heat_flow;  ///< above the baseline [W/kg]
  std::vector<double> released;   ///< heat since the first point [J/kg]
  double heat = 0.0;              ///< all of it [J/kg]
};

/// Draws the baseline, iterating the sigmoidal one until the heat stands still to 1e-10.
/// @throws InputError when the heat above the baseline is not positive: wrong sign, or no exotherm
inline Reaction subtract_baseline(BaselineKind kind, std::span<double const> time,
                                  std::span<double const> heat_flow, Windows const& windows) {
  Reaction r{Baseline(kind, time, windows), {}, std::vector<double>(time.size()), 0.0};
  std::vector<double> alpha(time.size());
  for (int pass = 0; pass < 50; ++pass) {
    r.heat_flow.assign(heat_flow.begin(), heat_flow.end());
    r.baseline.subtract(std::span(r.heat_flow));
    integrate(time, std::span<double const>(r.heat_flow), std::span(r.released));
    double const before = std::exchange(r.heat, r.released.back());
    if (!(r.heat > 0.0)) {
      throw InputError("heat of reaction", std::to_string(r.heat / 1e3) + " J/g",
                       "above 0: is the sign of the exotherm right, is there an exotherm between "
                       "the baseline windows?");
    }
    if (kind != BaselineKind::tangential_sigmoidal) break;
    if (std::abs(r.heat - before) <= 1e-10 * r.heat) break;
    for (std::size_t i = 0; i < alpha.size(); ++i) alpha[i] = r.released[i] / r.heat;
    r.baseline.set_basis(time, alpha);
  }
  return r;
}

}  // namespace cure::fit
