#pragma once
/// What forbids that readings move the release earlier. The limits are this project's own choice,
/// without a source.

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cctype>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/follow/faults.hpp"
#include "cure/follow/fit.hpp"

namespace cure::follow {

/// Rows that must count before the sampling stops, and for an answer.
inline constexpr double enough_rows = 24.0, few_rows = 16.0;

namespace detail {

inline constexpr std::size_t fewest_good = 10;
inline constexpr double least_worth = 2.0;  ///< independent readings
inline constexpr double large = 3.0;        ///< standard deviations
inline constexpr double large_share = 0.2;  ///< of readings, by weight, that may be that far off
inline constexpr double largest_middle = 1.5, largest_drift = 2.0;  ///< standard deviations
inline constexpr double late = 1800.0;  ///< before the last reading, without a drift away [s]

using Statements = std::vector<Statement>;

/// Whether there are readings enough, recent ones, and from times that the job has.
/// @param worth independent readings, @param now [s], @param end of the hold in the case [s]
inline Statements amount(Screened const& s, double worth, double now, double end) {
  if (s.time.size() == 0) return {{"none", "There are no readings."}};
  Statements out;
  double const last = s.time(s.time.size() - 1);
  if (last > end + longest_gap) {
    out.push_back({"clock", "The last row is at " + number(last / 60.0) +
                                " min, after the end of the hold in the case, " +
                                number(end / 60.0) +
                                " min. Do the times count from mixing, in the unit of their "
                                "heading?"});
  }
  auto const good = s.with(used);
  if (good.size() < fewest_good) {
    out.push_back({"too_few", "Only " + std::to_string(good.size()) + " of " +
                                  std::to_string(s.time.size()) + " readings are good; at least " +
                                  std::to_string(fewest_good) + " are needed."});
    return out;
  }
  Eigen::VectorXd const t = s.time(good);
  if (worth < least_worth) {
    out.push_back({"too_few", "The good readings span only " +
                                  number((t(t.size() - 1) - t(0)) / 60.0) + " min; at least " +
                                  number(least_worth * correlation_time / 60.0) + " are needed."});
  }
  if (auto const gap = find_gap(t, now)) {
    out.push_back({"gap", "The last good reading is " + number(*gap / 60.0) + " min old."});
  }
  return out;
}

inline std::string lower_case(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

/// Whether readings and model go together with unknowns within their ranges.
/// @param effective rows that the answer rests on
inline Statements agreement(Job const& job, Data const& data, Fit const& found, double effective) {
  Statements out;
  Eigen::VectorXd const size = found.z.cwiseAbs(), w = data.weight / data.weight.sum();
  double const large_ones = (size.array() > large).select(w, 0.0).sum();
  if (large_ones > large_share || WeightedValues(size, w).quantile(0.5, true) > largest_middle) {
    double const off = data.sd * std::sqrt(w.dot(found.z.cwiseAbs2()));
    out.push_back(
        {"misfit", "No job within the assumed ranges shows these temperatures: they stay " +
                       number(off, 1) +
                       " K off. Is the case right, and does the probe lie where it "
                       "says?"});
  }
  auto const recent = data.t.array() > data.t(data.size() - 1) - late;
  Eigen::ArrayXd const w_recent = recent.select(data.weight.array(), 0.0);
  double const drift = (w_recent * found.z.array()).sum() / std::max(w_recent.sum(), 1e-12);
  if (std::abs(drift) > largest_drift && out.empty()) {
    out.push_back({"drift", "In the last half hour the readings run " +
                                number(std::abs(drift) * data.sd, 1) + " K " +
                                (drift > 0.0 ? "above" : "below") + " what the model can do."});
  }
  Eigen::Index worst = 0;
  double const most = found.x.cwiseAbs().maxCoeff(&worst);
  boost::math::chi_squared const sum_of_squares(static_cast<double>(found.x.size()));
  if (most > large || found.x.squaredNorm() > boost::math::quantile(sum_of_squares, 0.999)) {
    out.push_back({"beyond_ranges",
                   "To agree with the readings, the unknowns would have to lie beyond their "
                   "assumed ranges, " +
                       lower_case(job.title(worst)) + " most of all."});
  }
  if (effective < few_rows) {
    out.push_back({"few_rows", "Only " + number(effective) +
                                   " rows agree with the readings, so that the band is not known "
                                   "well."});
  }
  return out;
}

}  // namespace detail

}  // namespace cure::follow
