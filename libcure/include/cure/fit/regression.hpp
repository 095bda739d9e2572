#pragma once
/// Straight-line regression with its uncertainty (any textbook; e.g. N.R. Draper, H. Smith,
/// "Applied Regression Analysis", 3rd ed., Wiley 1998, ch. 1).

#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <string>

#include "cure/error.hpp"
#include "cure/fit/dsc.hpp"

namespace cure::fit {

struct Regression {
  double intercept = 0.0, slope = 0.0;
  double slope_error = 0.0;       ///< standard error of the slope; NaN with two points
  double slope_half_width = 0.0;  ///< half width of its 95 % interval, Student's t; NaN likewise
  double r_squared = 0.0;
};

/// @throws InputError with fewer than two points, or all at one x
inline Regression regress(std::span<double const> x, std::span<double const> y) {
  auto const n = x.size();
  if (n < 2 || y.size() != n) {
    throw InputError("runs", std::to_string(n), "two or more for a straight line");
  }
  auto const line = line_through(x, y);
  double xx = 0.0, yy = 0.0, rest = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    xx += (x[i] - line.t_mean) * (x[i] - line.t_mean);
    yy += (y[i] - line.y_mean) * (y[i] - line.y_mean);
    double const r = y[i] - line.at(x[i]);
    rest += r * r;
  }
  if (!(xx > 0.0)) throw InputError("runs", "all at one value", "two or more that differ");
  Regression out;
  out.slope = line.slope;
  out.intercept = line.at(0.0);
  out.r_squared = yy > 0.0 ? 1.0 - rest / yy : 1.0;
  out.slope_error = out.slope_half_width = std::numeric_limits<double>::quiet_NaN();
  if (n > 2) {
    auto const freedom = static_cast<double>(n - 2);
    out.slope_error = std::sqrt(rest / freedom / xx);
    out.slope_half_width =
        out.slope_error * boost::math::quantile(boost::math::students_t(freedom), 0.975);
  }
  return out;
}

}  // namespace cure::fit
