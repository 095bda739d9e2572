#pragma once
/// A run of a differential scanning calorimeter: what was recorded, turned into SI with the
/// exotherm upwards, and measures of its quality. Statements about bad data are made from these
/// measures by the caller; nothing here repairs a record.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/numerics/schedule.hpp"

namespace cure::fit {

/// A unit of recorded heat flow; those a mass need the sample mass no more.
struct HeatFlowUnit {
  std::string_view name;
  double to_watt;  ///< to W, or to W/kg when per_mass
  bool per_mass;
};

inline constexpr std::array heat_flow_units{
    HeatFlowUnit{"W", 1.0, false},    HeatFlowUnit{"mW", 1e-3, false},
    HeatFlowUnit{"uW", 1e-6, false},  HeatFlowUnit{"W/g", 1e3, true},
    HeatFlowUnit{"mW/mg", 1e3, true}, HeatFlowUnit{"W/kg", 1.0, true},
};

/// Factor from a recorded heat flow to exothermic heat flow a mass of sample, W/kg.
/// @param mass of the sample [kg]; used for units that are not a mass already
/// @throws InputError for an unknown unit, or a mass that is missing or not above 0
inline double heat_flow_factor(std::string_view unit, double mass, bool exotherm_up) {
  for (auto const& u : heat_flow_units) {
    if (u.name != unit) continue;
    if (!u.per_mass && !(mass > 0.0)) {
      throw InputError("mass", std::to_string(mass) + " kg", "above 0, for a heat flow in W");
    }
    return (exotherm_up ? 1.0 : -1.0) * u.to_watt / (u.per_mass ? 1.0 : mass);
  }
  std::string known;
  for (auto const& u : heat_flow_units) known += (known.empty() ? "" : ", ") + std::string(u.name);
  throw InputError("heat flow unit", "\"" + std::string(unit) + "\"", "one of " + known);
}

/// Measures of a record's quality.
struct RecordQuality {
  std::size_t first_unsorted = 0;  ///< index of the first time not above the one before; 0: none
  double median_step = 0.0;        ///< [s]
  double largest_gap = 0.0;        ///< [s]
  double gap_at = 0.0;             ///< its beginning [s]
  std::size_t flat_top = 0;        ///< most neighbours that share the record's greatest value
  double flat_top_at = 0.0;        ///< time of the first of them [s]
  double heating_rate = 0.0;       ///< slope of a line through temperature over time [K/s]
  double ramp_scatter = 0.0;       ///< greatest distance of the temperature from that line [K]
  double noise = 0.0;              ///< standard deviation of white noise in the signal, its unit
};

/// Slope and mean of a least-squares line through y(t).
struct Line {
  double t_mean = 0.0, y_mean = 0.0, slope = 0.0;
  [[nodiscard]] double at(double t) const { return y_mean + slope * (t - t_mean); }
};

inline Line line_through(std::span<double const> t, std::span<double const> y) {
  Line line;
  auto const n = static_cast<double>(t.size());
  for (std::size_t i = 0; i < t.size(); ++i) {
    line.t_mean += t[i] / n;
    line.y_mean += y[i] / n;
  }
  double tt = 0.0, ty = 0.0;
  for (std::size_t i = 0; i < t.size(); ++i) {
    tt += (t[i] - line.t_mean) * (t[i] - line.t_mean);
    ty += (t[i] - line.t_mean) * (y[i] - line.y_mean);
  }
  line.slope = tt > 0.0 ? ty / tt : 0.0;
  return line;
}

/// @param time [s], @param temperature [K], @param signal exotherm upwards, any unit; one length >=
/// 8
inline RecordQuality quality_of(std::span<double const> time, std::span<double const> temperature,
                                std::span<double const> signal) {
  auto const n = time.size();
  if (n < 8 || temperature.size() != n || signal.size() != n) {
    throw InputError("record", std::to_string(n) + " rows", "8 or more, with as many temperatures");
  }
  RecordQuality q;
  std::vector<double> steps(n - 1);
  for (std::size_t i = 0; i + 1 < n; ++i) {
    steps[i] = time[i + 1] - time[i];
    if (!(steps[i] > 0.0) && q.first_unsorted == 0) q.first_unsorted = i + 1;
    if (steps[i] > q.largest_gap) q.largest_gap = steps[i], q.gap_at = time[i];
  }
  auto const median = [](std::vector<double> v) {
    auto const middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
    std::nth_element(v.begin(), middle, v.end());
    return *middle;
  };
  q.median_step = median(steps);
  double const top = *std::max_element(signal.begin(), signal.end());
  double const range = top - *std::min_element(signal.begin(), signal.end());
  std::size_t run = 0;
  for (std::size_t i = 0; i < n; ++i) {
    run = signal[i] >= top - 1e-9 * range ? run + 1 : 0;
    if (run > q.flat_top) q.flat_top = run, q.flat_top_at = time[i + 1 - run];
  }
  auto const line = line_through(time, temperature);
  q.heating_rate = line.slope;
  for (std::size_t i = 0; i < n; ++i) {
    q.ramp_scatter = std::max(q.ramp_scatter, std::abs(temperature[i] - line.at(time[i])));
  }
  // Second differences of white noise have 6 times its variance; 1.4826 turns a median into a
  // standard deviation.
  std::vector<double> second(n - 2);
  for (std::size_t i = 0; i < second.size(); ++i) {
    second[i] = std::abs(signal[i] - 2.0 * signal[i + 1] + signal[i + 2]);
  }
  q.noise = 1.4826 * median(second) / std::sqrt(6.0);
  return q;
}

/// The temperature programme behind a record: piecewise linear with as few corners as keep every
/// recorded temperature within `tolerance` [K] (the corner search of D.H. Douglas, T.K. Peucker,
/// Cartographica 10, 112, 1973, reference from memory). A record that a line fits becomes that
/// line, so that its noise does not bend the programme.
inline numerics::Schedule programme(std::span<double const> time,
                                    std::span<double const> temperature, double tolerance) {
  auto const line = line_through(time, temperature);
  double scatter = 0.0;
  for (std::size_t i = 0; i < time.size(); ++i) {
    scatter = std::max(scatter, std::abs(temperature[i] - line.at(time[i])));
  }
  if (scatter <= tolerance) {
    return {{time.front(), time.back()}, {line.at(time.front()), line.at(time.back())}};
  }
  std::vector<std::size_t> corners{0, time.size() - 1};
  for (std::size_t k = 0; k + 1 < corners.size();) {
    auto const a = corners[k], b = corners[k + 1];
    double const slope = (temperature[b] - temperature[a]) / (time[b] - time[a]);
    std::size_t worst = a;
    double most = tolerance;
    for (std::size_t i = a + 1; i < b; ++i) {
      double const off = std::abs(temperature[i] - temperature[a] - slope * (time[i] - time[a]));
      if (off > most) most = off, worst = i;
    }
    if (worst == a) {
      ++k;
    } else {
      corners.insert(corners.begin() + static_cast<std::ptrdiff_t>(k) + 1, worst);
    }
  }
  std::vector<double> t, T;
  for (auto const i : corners) t.push_back(time[i]), T.push_back(temperature[i]);
  return {std::move(t), std::move(T)};
}

}  // namespace cure::fit
