#pragma once
/// What readings say of a row: the likelihood.
///
/// The unknowns theta are standard normal before the readings; readings say little of some of them,
/// such as the degree of cure at which diffusion stops a resin, and those keep their spread. With
/// residuals z = (reading - model - probe error) / s of n readings, Student-t with nu = 4 degrees
/// of freedom (K.L. Lange, R.J.A. Little, J.M.G. Taylor, J. Am. Stat. Assoc. 84, 881, 1989, from
/// memory), so that a wrong reading has a bounded pull:
///
///     -ln p(theta) = theta.theta / 2 + sum_i w_i (nu + 1) / 2 ln(1 + z_i^2 / nu)
///
/// A model errs for many minutes the same way, so readings are far from independent: counted one by
/// one, thousands of them would shrink the band to nothing about a wrong answer. Each reading
/// therefore counts only as its share of a correlation time, w_i = min(1, spacing / tau): T minutes
/// of log are worth T / tau readings, however dense (the effective number of observations of an
/// autocorrelated series: G.V. Bayley, J.M. Hammersley, Suppl. J. R. Stat. Soc. 8, 184, 1946, from
/// memory). What errs the same way for ever, the probe and the logger's clock, is unknown itself.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <vector>

#include "cure/follow/unknowns.hpp"
#include "cure/follow/weighted.hpp"

namespace cure::follow {

/// The readings as the likelihood sees them.
struct Data {
  Eigen::VectorXd t;       ///< rising [s]
  Eigen::VectorXd T;       ///< [K]
  Eigen::VectorXd weight;  ///< share of a correlation time [-]
  double sd = 0.0;         ///< of sensor and model [K]

  [[nodiscard]] Eigen::Index size() const { return t.size(); }
  [[nodiscard]] double worth() const { return weight.sum(); }  ///< independent readings
};

/// Takes dense readings together and gives each its weight.
/// @param t rising [s], @param T [K], @param span range of temperatures that the likely wall goes
/// through while they last [K]
inline Data weigh(Eigen::VectorXd const& t, Eigen::VectorXd const& T, double span) {
  constexpr double nearest = 30.0;  // denser readings are taken together [s]
  std::vector<double> time, temperature, group;
  for (Eigen::Index i = 0; i < t.size();) {
    double const number = std::floor(t(i) / nearest);
    double sum = 0.0;
    group.clear();
    for (; i < t.size() && std::floor(t(i) / nearest) == number; ++i) {
      sum += t(i);
      group.push_back(T(i));
    }
    time.push_back(sum / static_cast<double>(group.size()));
    temperature.push_back(median(group));
  }
  Data d{numerics::vector_map(time),
         numerics::vector_map(temperature),
         {},
         std::hypot(sensor_sd, std::max(model_sd, model_share * span))};
  d.weight.setZero(d.size());
  for (Eigen::Index i = 0; i + 1 < d.size(); ++i) {
    double const half = 0.5 * (d.t(i + 1) - d.t(i));
    d.weight(i) += half;
    d.weight(i + 1) += half;
  }
  d.weight = (d.weight / correlation_time).cwiseMin(1.0);
  return d;
}

/// A probe that has lost its contact: it shows the fill of the bladder by a share, the wall by the
/// rest.
struct Off {
  double since = 0.0;  ///< [s]
  double share = 0.0;

  /// Share of the fill at a time [s].
  [[nodiscard]] double at(double t) const {
    constexpr double lag = 120.0;  // in which it goes over to the fill [s]; assumption, no source
    return share * -std::expm1(-std::max(t - since, 0.0) / lag);
  }
};

/// Rows and their temperatures (rows x grid) [K].
struct Rows {
  RowMatrix x, traces;
};

inline constexpr double nu = 4.0;

/// Residuals of rows against the readings.
class Misfit {
 public:
  /// @param grid times that traces are of, @param medium temperatures of the air, then the fill
  /// there, not of a grid that smooths the jump when the liner is held; all must outlive it
  /// @param clock standard deviation of the logger's clock [s]
  Misfit(Job const& job, Data const& data, Eigen::VectorXd const& grid,
         Eigen::VectorXd const& medium, double clock, std::optional<Off> off = {})
      : job_(job), data_(data), grid_(grid), medium_(medium), clock_sd_(clock), off_(off) {
    off_share_.setZero(data.size());
    for (Eigen::Index i = 0; off && i < data.size(); ++i) off_share_(i) = off->at(data.t(i));
  }

  [[nodiscard]] std::optional<Off> const& off() const { return off_; }
  [[nodiscard]] Data const& data() const { return data_; }
  [[nodiscard]] double clock_sd() const { return clock_sd_; }

  /// Residuals over their standard deviation, one after the other to `take(i, z)`, until it returns
  /// false; reading i was taken at t_i + clock.
  /// @param fill_offset of the row [K]
  template <class Trace, class X, class Take>
  void each(Trace const& trace, X const& x, double fill_offset, Take const& take) const {
    auto const k = job_.unknowns();
    double const probe = nuisances[0].sd * x(k), share = 0.01 * nuisances[1].sd * x(k + 1);
    double const clock = clock_sd_ * x(k + 2);
    Walk walk(grid_);
    for (Eigen::Index i = 0; i < data_.size(); ++i) {
      auto const spot = walk.to(data_.t(i) + clock);
      double const wall = spot.of(trace), fill = spot.of(medium_) + fill_offset;
      double const shown = wall + (share + off_share_(i)) * (fill - wall) + probe;
      double const z = (data_.T(i) - shown) / data_.sd;
      // A row that cannot be computed is as unlikely as can be.
      if (!take(i, std::isnan(z) ? 1e3 : z)) return;
    }
  }

  /// The readings' part of -ln p of a row; any number above `most` where it is above that.
  template <class Trace, class X>
  [[nodiscard]] double cost(Trace const& trace, X const& x, double fill_offset,
                            double most = std::numeric_limits<double>::infinity()) const {
    double sum = 0.0;
    each(trace, x, fill_offset, [&](Eigen::Index i, double z) {
      sum += data_.weight(i) * 0.5 * (nu + 1.0) * std::log1p(z * z / nu);
      return sum <= most;
    });
    return sum;
  }

  /// Residuals for least squares, half their squared sum being -ln p: those of readings, then x.
  [[nodiscard]] Eigen::VectorXd residuals(Eigen::VectorXd const& trace,
                                          Eigen::VectorXd const& x) const {
    Eigen::VectorXd r(data_.size() + x.size());
    each(trace, x, fill_offset(x), [&](Eigen::Index i, double z) {
      r(i) = std::copysign(std::sqrt(data_.weight(i) * (nu + 1.0) * std::log1p(z * z / nu)), z);
      return true;
    });
    r.tail(x.size()) = x;
    return r;
  }

  /// Residuals over their standard deviation.
  [[nodiscard]] Eigen::VectorXd z(Eigen::VectorXd const& trace, Eigen::VectorXd const& x) const {
    Eigen::VectorXd found(data_.size());
    each(trace, x, fill_offset(x), [&](Eigen::Index i, double z) {
      found(i) = z;
      return true;
    });
    return found;
  }

 private:
  [[nodiscard]] double fill_offset(Eigen::VectorXd const& x) const {
    return job_.fill_offset(x.transpose())(0);
  }

  Job const& job_;
  Data const& data_;
  Eigen::VectorXd const& grid_;
  Eigen::VectorXd const& medium_;
  double clock_sd_;
  std::optional<Off> off_;
  Eigen::VectorXd off_share_;
};

}  // namespace cure::follow
