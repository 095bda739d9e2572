#pragma once
/// Places of a job by the names that pages and documents give them: a part with a position across
/// it, "liner outer face" or "pipe middle", and the parts that have none, "mixed mass" ("resin in
/// the bucket") and "medium", the air or fill beside the liner. In a section a name ends with the
/// column: "liner outer face, 6 o'clock", or "liner middle, 250 mm along".

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdlib>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/process/section.hpp"
#include "cure/range.hpp"

namespace cure::process {

enum class Part { mixed_mass, bladder, liner, pipe, ground, medium };
enum class Position { inner_face, middle, outer_face };

inline constexpr std::array<std::string_view, 6> part_names{"mixed mass", "bladder", "liner",
                                                            "pipe",       "ground",  "medium"};
inline constexpr std::array<std::string_view, 3> position_names{"inner face", "middle",
                                                                "outer face"};

constexpr std::string_view name(Part p) { return part_names[static_cast<std::size_t>(p)]; }
constexpr std::string_view name(Position p) { return position_names[static_cast<std::size_t>(p)]; }
/// Whether a part has faces; the others are of one temperature.
constexpr bool has_faces(Part p) { return p != Part::mixed_mass && p != Part::medium; }

/// Where among `count` cells, or points, number `j` stands.
inline std::string position_name(std::size_t j, std::size_t count) {
  double const s = (static_cast<double>(j) + 0.5) / static_cast<double>(count);
  return std::string(name(s < 0.25   ? Position::inner_face
                          : s > 0.75 ? Position::outer_face
                                     : Position::middle));
}

struct Place {
  Part part = Part::liner;
  Position position = Position::outer_face;  ///< across the part; of those with faces
  std::optional<double> angle;     ///< from the invert, clockwise [rad]; of sections around
  std::optional<double> distance;  ///< along the liner [m]; of sections along

  constexpr explicit Place(Part p, Position q = Position::outer_face) : part(p), position(q) {}
  /// By its name. @throws InputError
  Place(std::string_view text);  // NOLINT(google-explicit-constructor): a name is a place
  Place(std::string const& text) : Place(std::string_view(text)) {}
  Place(char const* text) : Place(std::string_view(text)) {}

  [[nodiscard]] std::string name() const;
  [[nodiscard]] bool operator==(Place const&) const = default;

  // Of the liner, where a probe mostly lies; and beside it.
  static Place const inner_face, middle, outer_face, medium;
};

inline constexpr Place Place::inner_face{Part::liner, Position::inner_face};
inline constexpr Place Place::middle{Part::liner, Position::middle};
inline constexpr Place Place::outer_face{Part::liner, Position::outer_face};
inline constexpr Place Place::medium{Part::medium};

/// Names of the places of a part, from the inner face outwards.
inline std::vector<std::string> places_of(Part part) {
  if (!has_faces(part)) return {std::string(name(part))};
  std::vector<std::string> all;
  for (auto const p : position_names) {
    all.push_back(std::string(name(part)) + " " + std::string(p));
  }
  return all;
}

namespace detail {

/// The end of a name that tells the column of a section: "6 o'clock", "5 and 7 o'clock" (of which
/// the first counts: the pipe is the same in both), "250 mm along".
inline bool read_column(std::string_view text, Place& place) {
  std::string const all(text);
  char* rest = nullptr;
  double const x = std::strtod(all.c_str(), &rest);
  if (rest == all.c_str() || !std::isfinite(x)) return false;
  std::string_view unit(rest);
  if (unit == " mm along") {
    place.distance = 1e-3 * x;
    return true;
  }
  if (unit.starts_with(" and ")) {
    char* after = nullptr;
    std::strtod(rest + 5, &after);
    unit = after;
  }
  if (unit != " o'clock" || !(x >= 0.0 && x <= 12.0)) return false;
  place.angle = full_turn / 12.0 * (x - 6.0);
  return true;
}

}  // namespace detail

inline Place::Place(std::string_view text) {
  auto const comma = text.find(", ");
  auto const wall = text.substr(0, comma);
  bool known = wall == "resin in the bucket";
  if (known) part = Part::mixed_mass;
  for (std::size_t i = 0; i < part_names.size() && !known; ++i) {
    part = static_cast<Part>(i);
    auto const all = places_of(part);
    for (std::size_t j = 0; j < all.size() && !known; ++j) {
      known = wall == all[j];
      if (known && has_faces(part)) position = static_cast<Position>(j);
    }
  }
  if (known && comma != std::string_view::npos) {
    known = has_faces(part) && detail::read_column(text.substr(comma + 2), *this);
  }
  if (known) return;
  throw InputError("place", "\"" + std::string(text) + "\"",
                   "mixed mass, or bladder, liner, pipe or ground with inner face, middle or outer "
                   "face, such as \"liner outer face\"; in a section with its column, such as "
                   "\"liner outer face, 6 o'clock\" or \"liner outer face, 250 mm along\"");
}

inline std::string Place::name() const {
  std::string text(process::name(part));
  if (has_faces(part)) text += " " + std::string(process::name(position));
  if (angle) {
    double const hour = *angle / full_turn * 12.0 + 6.0;
    double const on_dial = hour - 12.0 * std::floor(hour / 12.0);
    text += ", " + shown(on_dial > 0.0 ? on_dial : 12.0) + " o'clock";
  }
  if (distance) text += ", " + shown(1e3 * *distance) + " mm along";
  return text;
}

}  // namespace cure::process
