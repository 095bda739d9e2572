#pragma once
/// What a followed job assumes, each an assumption of this project without a source unless one is
/// named: how readings and model err, what of a probe is not known, and how sure a release must be.

#include <array>
#include <cmath>
#include <iterator>

#include "cure/uncertain/stated.hpp"

namespace cure::follow {

inline constexpr double sensor_sd = 0.3;           ///< of one reading [K]
inline constexpr double model_sd = 0.7;            ///< of the model's temperature [K]
inline constexpr double model_share = 0.03;        ///< of the temperatures the wall goes through
inline constexpr double correlation_time = 600.0;  ///< for which the model errs the same way [s]

/// Something about the probe that is estimated too, so that it is not taken for the wall's doing:
/// normal about 0.
struct Nuisance {
  char const* name;
  char const* title;
  double sd;  ///< in `unit`
  char const* unit;
};
inline constexpr std::array nuisances{Nuisance{"probe", "Probe's own error", 1.0, "K"},
                                      Nuisance{"fill_share", "Probe's share of the fill", 8.0, "%"},
                                      Nuisance{"clock", "Clock of the logger", 60.0, "s"}};
inline constexpr auto nuisance_count = std::ssize(nuisances);
inline constexpr double clock_sd = nuisances.back().sd;  ///< [s]
inline constexpr char const* assumed = "assumption, no source";

/// Unknown where the resin's file has no covariance: else the model's speed would count as exact,
/// and a slow batch be released too soon.
inline uncertain::StatedInput speed_of_cure() {
  return {"rate",
          "Speed of cure",
          {&ensemble::find_input("resin.rate_factor")},
          uncertain::Distribution::lognormal,
          0.15};
}
/// Temperature [K] and degree of cure [-] at which the speed of a resin's cure is told.
inline constexpr double speed_temperature = 288.15, speed_alpha = 0.3;

/// Error of the logarithm of the model's times, with all constants known, and middles of equal
/// parts of its distribution.
inline constexpr double time_sd = 0.05;
inline constexpr std::array time_points{0.1, 0.3, 0.5, 0.7, 0.9};

/// Share of likely jobs that a release with readings is late enough for. More than
/// decide::side_share: nothing comes after it, and readings do not see where the cure stops. With
/// its sampling bound, 3 of 600 jobs of an independent solver were let out too early
/// (tests/python/follow_wall.py); with 0.95 10 of 600 were.
inline constexpr double side = 0.97;
/// Beyond it single rows of next to no weight would decide.
inline constexpr double furthest_side = 0.995;

/// Where that side of weighted rows may lie at most, with 95 % confidence: by the normal limit of
/// the binomial distribution. @param effective rows of equal weight that they are worth
inline double safe_share(double effective) {
  return std::fmin(side + 1.645 * std::sqrt(side * (1.0 - side) / effective), furthest_side);
}

}  // namespace cure::follow
