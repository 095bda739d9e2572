#pragma once
/// What a case says of a wall in two dimensions: around the pipe (r-theta), where things differ by
/// the clock, or along it (r-z), where they differ by position.
///
/// Clock positions are those of a crew that looks along the pipe: 12 is the crown, 6 the invert. An
/// angle counts clockwise from the invert: angle = 30 degrees (clock - 6).

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <numbers>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/heat/section_mesh.hpp"

namespace cure::process {

inline constexpr double full_turn = 2.0 * std::numbers::pi;

/// A value by angle [rad] or position [m]: linear between its points. Around the pipe it closes on
/// itself; along it is constant before its first point and after its last.
class Profile {
 public:
  Profile() = default;
  /// @param at rising; around within 0 (included) to a full turn (not included)
  Profile(std::vector<double> at, std::vector<double> value, bool closed)
      : at_(std::move(at)), value_(std::move(value)), closed_(closed) {}

  [[nodiscard]] bool empty() const { return at_.empty(); }
  [[nodiscard]] std::vector<double> const& at() const { return at_; }
  [[nodiscard]] std::vector<double> const& values() const { return value_; }

  [[nodiscard]] double operator()(double x) const {
    if (closed_) x -= full_turn * std::floor(x / full_turn);
    auto const above = std::upper_bound(at_.begin(), at_.end(), x);
    auto const i = static_cast<std::size_t>(above - at_.begin());
    bool const outside = i == 0 || i == at_.size();
    if (outside && !closed_) return i == 0 ? value_.front() : value_.back();
    if (at_.size() == 1) return value_[0];
    auto const last = at_.size() - 1;
    double const a = outside ? at_[last] - (i == 0 ? full_turn : 0.0) : at_[i - 1];
    double const b = outside ? at_[0] + (i == 0 ? 0.0 : full_turn) : at_[i];
    double const from = outside ? value_[last] : value_[i - 1];
    double const to = outside ? value_[0] : value_[i];
    return from + (to - from) * (x - a) / (b - a);
  }

  /// Every value times x.
  void scale(double x) {
    for (auto& v : value_) v *= x;
  }

  /// True when left and right of the invert are alike.
  [[nodiscard]] bool mirrored() const {
    return std::all_of(at_.begin(), at_.end(), [&](double x) {
      double const a = (*this)(x), b = (*this)(full_turn - x);
      return std::abs(a - b) <= 1e-9 * (1.0 + std::abs(a));
    });
  }

 private:
  std::vector<double> at_, value_;
  bool closed_ = false;
};

/// A stretch of pipe [m].
struct Stretch {
  double from = 0.0, to = 0.0;
  [[nodiscard]] bool holds(double z) const { return z > from && z < to; }
};

/// Water at the invert between host pipe and liner, fed from the pipe on both sides of the liner,
/// so that it keeps its temperature. Up to its level the liner lies on water.
struct InvertWater {
  double depth = 0.0;        ///< of its level above the invert [m]
  double temperature = 0.0;  ///< [K]
  double h = 0.0;            ///< to liner and pipe [W/(m2 K)]
};

struct PipeSection {
  heat::Section kind = heat::Section::around;
  std::size_t columns = 48;  ///< round the whole pipe, or along the whole length
  Profile liner_thickness;   ///< [m]; empty: everywhere that of the liner
  // Around the pipe:
  std::optional<InvertWater> water;
  Profile ground_offset;  ///< of the undisturbed ground, and of the pipe that lay in it [K]
  // Along the pipe, positions from one end of the liner:
  double length = 0.0;                  ///< of liner [m]
  double bare_pipe = 0.0;               ///< pipe without liner before its end at 0 [m]
  std::optional<Stretch> bare_gap;      ///< where the liner is missing
  std::optional<Stretch> open_to_soil;  ///< where the pipe's wall is missing

  [[nodiscard]] bool around() const { return kind == heat::Section::around; }
  /// True when half the pipe tells all: invert and crown then lie on a plane of symmetry.
  [[nodiscard]] bool mirrored() const {
    return around() && liner_thickness.mirrored() && ground_offset.mirrored();
  }
  [[nodiscard]] double thickness(double position, double otherwise) const {
    return liner_thickness.empty() ? otherwise : liner_thickness(position);
  }
  [[nodiscard]] double offset(double position) const {
    return ground_offset.empty() ? 0.0 : ground_offset(position);
  }
  /// True where there is no liner.
  [[nodiscard]] bool bare(double position) const {
    return !around() && (position < 0.0 || (bare_gap && bare_gap->holds(position)));
  }
};

/// Edges of the columns. They fall on every place at which something ends, so that no column is
/// half wet or half bare; each part between gets its share of the columns, at least two.
/// @param bore radius of the host pipe [m]
inline std::vector<double> column_edges(PipeSection const& s, double bore) {
  std::vector<double> mark{0.0};
  auto columns = s.columns;
  if (s.around()) {
    double const wet = s.water ? heat::wetted_angle(s.water->depth, bore) : 0.0;
    bool const ends = wet > 0.0 && wet < std::numbers::pi;
    if (ends) mark.push_back(wet);
    if (s.mirrored()) {
      columns /= 2;
    } else if (ends) {
      mark.push_back(full_turn - wet);
    }
    mark.push_back(s.mirrored() ? std::numbers::pi : full_turn);
  } else {
    if (s.bare_pipe > 0.0) mark.push_back(-s.bare_pipe);
    for (auto const& part : {s.bare_gap, s.open_to_soil}) {
      if (part) mark.insert(mark.end(), {part->from, part->to});
    }
    mark.push_back(s.length);
    std::sort(mark.begin(), mark.end());
    mark.erase(std::unique(mark.begin(), mark.end()), mark.end());
  }
  std::vector<double> edge{mark.front()};
  double const whole = mark.back() - mark.front();
  for (std::size_t i = 0; i + 1 < mark.size(); ++i) {
    double const share = static_cast<double>(columns) * (mark[i + 1] - mark[i]) / whole;
    auto const n = std::max<std::size_t>(2, static_cast<std::size_t>(std::lround(share)));
    auto const part = heat::equal_edges(mark[i], mark[i + 1], n);
    edge.insert(edge.end(), part.begin() + 1, part.end() - 1);
    edge.push_back(mark[i + 1]);
  }
  return edge;
}

/// Whether the liner's thickness changes by more than 45 degrees: the mesh follows the faces of the
/// liner, and cannot follow a step.
/// @param bore radius of the host pipe [m]
inline bool too_steep(PipeSection const& s, double bore) {
  if (s.liner_thickness.empty()) return false;
  auto const edge = column_edges(s, bore);
  for (std::size_t j = 0; j + 2 < edge.size(); ++j) {
    double const a = 0.5 * (edge[j] + edge[j + 1]), b = 0.5 * (edge[j + 1] + edge[j + 2]);
    double const run = (b - a) * (s.around() ? bore : 1.0);
    if (std::abs(s.liner_thickness(b) - s.liner_thickness(a)) > run) return true;
  }
  return false;
}

/// "6 o'clock", to the nearest hour; of a mirrored pipe "5 and 7 o'clock".
/// @param angle from the invert, clockwise [rad]
inline std::string clock_name(double angle, bool mirrored) {
  auto const hours = static_cast<int>(std::lround(angle / full_turn * 12.0));
  auto const clock = [](int h) { return (h % 12 + 17) % 12 + 1; };
  int const one = clock(hours), other = clock(-hours);
  char text[32];
  if (mirrored && one != other) {
    std::snprintf(text, sizeof text, "%d and %d o'clock", std::min(one, other),
                  std::max(one, other));
  } else {
    std::snprintf(text, sizeof text, "%d o'clock", one);
  }
  return text;
}

}  // namespace cure::process
