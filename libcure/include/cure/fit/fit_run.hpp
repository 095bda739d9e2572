#pragma once
/// A calorimeter run as the fit sees it: its programme, its points and what was measured at them.

#include <vector>

#include "cure/fit/baseline.hpp"
#include "cure/numerics/schedule.hpp"

namespace cure::fit {

struct FitRun {
  numerics::Schedule programme;     ///< temperature over the record's time [K]
  double start = 0.0;               ///< when cure starts from the fresh mix [s]
  std::vector<double> time;         ///< points between the outer ends of the windows [s]
  Baseline baseline;                ///< over those points
  std::vector<double> rate, alpha;  ///< measured, after baseline and normalisation
  bool own_heat = true;             ///< over the run's own heat; else over a known total
  double peak = 1.0;                ///< greatest measured rate [1/s]
  double rate_weight = 1.0, alpha_weight = 1.0;
  double heat = 0.0;        ///< above the baseline [J/kg]
  double total_heat = 0.0;  ///< that the measured rate and degree of cure are over [J/kg]
  bool tells_heat = false;  ///< one of the ramps that tell the heat of reaction
  bool on_ramps = false;    ///< the true total is what the ramps tell under the law
  bool lags = false;        ///< the sample is heated, so it lags behind its programme
  /// What may be off in this run alone, to first order (a drift, a mass): orthonormal shapes of its
  /// residuals, row by row, (2 times.size()) x shrink.size().
  std::vector<double> shapes{};
  std::vector<double> offset{};  ///< added to the residuals: of shapes that `start` has already
  std::vector<double> shrink{};  ///< by shape, 1 - 1/sqrt(1 + variance in squares of the residuals)
};

}  // namespace cure::fit
