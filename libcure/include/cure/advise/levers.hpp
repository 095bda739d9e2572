#pragma once
/// What a crew can turn: ice the resin, cool the packer, warm the fill.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <string>
#include <utility>
#include <vector>

#include "cure/advise/changes.hpp"
#include "cure/advise/needs.hpp"
#include "cure/decide/words.hpp"
#include "cure/ensemble/inputs.hpp"

namespace cure::advise {

/// Moments in place are advised in steps of this: a choice of this project [s].
inline constexpr double in_place_step = 300.0;

/// Degrees Celsius as a crew reads them off, such as "12.5 °C".
inline std::string degrees(double kelvin) { return shown(stated_celsius(kelvin)) + " °C"; }

/// A time from mixing, as a crew reads it off.
inline std::string since_mixing(double seconds) { return decide::short_duration(seconds); }

/// One temperature [K], or the time in place [s], that can be changed.
struct Lever {
  Kind kind = Kind::resin_temperature;
  std::string name;   ///< what is turned, such as "resin iced"
  std::string until;  ///< the same before its value, such as "resin iced to"
  double start = 0.0;
  double end = 0.0;                        ///< farthest value looked at
  std::string why_end;                     ///< in words
  ensemble::Input const* input = nullptr;  ///< offset of an ensemble that does the same, if any
  double step = 5.0;  ///< what a crew can hit and read off: a choice of this project [K or s]

  /// Round numbers, of degrees Celsius or of minutes, from next to the start to the end, in this
  /// order [K or s]; may be none.
  [[nodiscard]] std::vector<double> values() const {
    double const zero = timed() ? 0.0 : zero_celsius;
    auto const steps = [&](double x) { return (timed() ? x : stated_celsius(x)) / step; };
    double const from = steps(start), to = steps(end);
    std::vector<double> list;
    if (to < from) {
      for (double k = std::ceil(from) - 1.0; k >= std::ceil(to); --k) list.push_back(k);
    } else {
      for (double k = std::floor(from) + 1.0; k <= std::floor(to); ++k) list.push_back(k);
    }
    for (double& value : list) value = step * value + zero;
    return list;
  }

  /// One step from one of the values to the bad side, or the start.
  [[nodiscard]] double weaker(double value) const {
    auto const list = values();
    auto const at = std::find(list.begin(), list.end(), value);
    return at == list.begin() ? start : *(at - 1);
  }

  /// On top of other changes.
  [[nodiscard]] Changes turned(Changes x, double value) const {
    switch (kind) {
      case Kind::resin_temperature: x.resin = value; break;
      case Kind::packer_temperature: x.packer = value; break;
      case Kind::in_place: x.in_place = value; break;
      default: x.fill = value; break;
    }
    return x;
  }

  /// Whether its values are times from mixing, else temperatures.
  [[nodiscard]] bool timed() const { return kind == Kind::in_place; }
  [[nodiscard]] std::string shown(double value) const {
    return timed() ? since_mixing(value) : degrees(value);
  }
  [[nodiscard]] std::string words(double value) const { return until + " " + shown(value); }
};

/// Ice the mixed resin.
inline Lever resin_lever(Case const& c, Reach const& reach) {
  double const start = c.initial.resin;
  return {Kind::resin_temperature,
          "resin iced",
          "resin iced to",
          start,
          std::min(start, reach.coldest_resin),
          "the coldest looked at",
          &ensemble::find_input("initial_temperature.resin_offset_K"),
          2.0};
}

/// Cool the packer, at most to the colder of pipe and air, and not below 0 °C: shade and tap water
/// do that.
inline Lever packer_lever(Case const& c) {
  double const start = c.initial.packer;
  double const coolest = std::max(zero_celsius, std::min(c.initial.pipe, c.initial.air));
  return {Kind::packer_temperature,
          "packer cooled",
          "packer cooled to",
          start,
          std::min(start, coolest),
          "as cool as pipe or air",
          &ensemble::find_input("initial_temperature.packer_offset_K")};
}

/// Be quicker: the liner in place sooner, down to half the time that is planned.
inline Lever in_place_lever(Case const& c) {
  double const start = process::planned_hold(c)->first;
  return {Kind::in_place,
          "liner in place sooner",
          "liner in place by",
          start,
          0.5 * start,
          "half the time that is planned",
          nullptr,
          in_place_step};
}

/// Warm the fill of the bladder, at its hottest, as far as bladder, pipe and resin carry.
inline Lever fill_lever(Case const& c, Reach const& reach) {
  double const start = hottest_fill(c);
  std::pair<double, char const*> const ends[] = {
      {reach.hottest_fill, "the hottest looked at"},
      {decide::lowest_limit(c), "the limit of resin, bladder or pipe"},
      {c.resin.validity.temperature_max, "the end of the resin model"}};
  auto const& [end, why] =
      *std::min_element(std::begin(ends), std::end(ends),
                        [](auto const& a, auto const& b) { return a.first < b.first; });
  // A cycle's ramps grow with it: no offset does that.
  bool const cycle =
      detail::any<process::Held>(c, [](auto const& held) { return held.cycle.has_value(); });
  auto const* input = cycle ? nullptr : &ensemble::find_input("fill_temperature_offset_K");
  return {Kind::fill_temperature,
          "warmer fill of the bladder",
          "bladder filled at",
          start,
          std::max(start, end),
          why,
          input};
}

}  // namespace cure::advise
