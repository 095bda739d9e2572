#pragma once
/// "section" of a case document: the wall in two dimensions. Places around the pipe are clock
/// positions (12 the crown, 6 the invert), places along it millimetres from one end of the liner.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/case_reading.hpp"
#include "cure/process/section_stage.hpp"

namespace cure::io {

namespace detail::section {

using F = CaseFields;
using X = CaseReading;

inline constexpr Measure in_mm{"mm"};                         ///< kept in millimetres
inline constexpr Range along_liner{.low = 0.0, .high = 5e4};  ///< [mm]

inline constexpr PointShape clock{"clock",
                                  {.low = 0.0, .high = 12.0},
                                  "Rising; 12 (or 0) is the crown, 6 the invert, 9 the left "
                                  "springline. Linear between, round the whole pipe.",
                                  "the one before it",
                                  "clock"};
inline constexpr PointShape position{"position_mm", along_liner,
                                     "Rising [mm] from one end of the liner; constant outside.",
                                     "the one before it", "position_mm"};

/// @throws InputError
inline void read_clock(Field<X> const& f, Reader& r, X& x) {
  auto table = r.object(f.key);
  auto const p = read_points(table, clock, f.shape.range);
  if (p.at.back() - p.at.front() >= 12.0) {
    table.fail("clock", "both 0 and 12", "the crown once, as 0 or as 12");
  }
  std::vector<std::pair<double, double>> points;
  for (std::size_t i = 0; i < p.at.size(); ++i) {
    double const turn = (p.at[i] - 6.0) / 12.0;
    points.emplace_back(process::full_turn * (turn - std::floor(turn)), f.measure.si(p.values[i]));
  }
  std::sort(points.begin(), points.end());
  std::vector<double> angle, value;
  for (auto const& point : points) {
    angle.push_back(point.first);
    value.push_back(point.second);
  }
  x.profile = {std::move(angle), std::move(value), true};
}

/// @throws InputError
inline void read_position(Field<X> const& f, Reader& r, X& x) {
  auto table = r.object(f.key);
  auto p = read_points(table, position, f.shape.range);
  for (auto& at : p.at) at *= 1e-3;
  for (auto& v : p.values) v = f.measure.si(v);
  x.profile = {std::move(p.at), std::move(p.values), false};
}

/// A table of values by place. @param take its turn, once they are `x.profile`
constexpr Field<X> profile(char const* key, Range si, Measure unit, PointShape const& places,
                           void (*read)(Field<X> const&, Reader&, X&), Action<X> take) {
  auto f = F::field(key, {.range = unit.of(si), .unit = unit.unit, .points = &places}, read);
  f.measure = unit;
  return f.and_then(take).optional();
}

inline void take_thickness(Reader&, X& x) { x.section.liner_thickness = std::move(x.profile); }
inline void take_offset(Reader&, X& x) { x.section.ground_offset = std::move(x.profile); }

inline constexpr Field<X> columns = F::whole(
                                        "columns", {.low = 8.0, .high = 400.0},
                                        [](X& x, std::size_t n) { x.section.columns = n; }, 2)
                                        .or_else("24, 48 or 96 by accuracy");

inline void in_pipe(Reader& r, X& x) {
  double const bore = 1e3 * x.c.pipe.inner_diameter, depth = 1e3 * x.section.water->depth;
  if (!(depth > bore)) return;
  r.fail("depth_mm", shown(depth), "at most the pipe's inner diameter, " + shown(bore));
}

inline constexpr Field<X> water_fields[] = {
    F::number("depth_mm", {.low = 0.0, .high = 3.0, .above = true}, unit::mm,
              [](X& x, double v) {
                x.section.water = process::InvertWater{v, 0.0, 0.0};
              })
        .means("Of its level above the invert.")
        .and_then(in_pipe),
    F::number("temperature_C", limits::water_temperature, unit::celsius,
              [](X& x, double v) { x.section.water->temperature = v; }),
    F::number("h_W_m2K", limits::h_of_water, unit::h,
              [](X& x, double v) { x.section.water->h = v; })
        .or_number(200.0, "water that hardly moves, common practice, no source")
        .means("To liner and pipe.")};

inline constexpr Object<X> water_table{
    water_fields,
    "Water at the invert between pipe and liner, from before the liner is held; it keeps its "
    "temperature."};

inline constexpr Field<X> around_fields[] = {
    columns,
    profile("liner_thickness_mm", limits::thickness, unit::mm, clock, read_clock, take_thickness)
        .means("Liner that is thicker in places; default: liner.thickness_mm everywhere."),
    profile("ground_offset_K", limits::ground_offset, unit::kelvin, clock, read_clock, take_offset)
        .means("Undisturbed ground, and the pipe in it, warmer than given; such as a warm crown."),
    F::object("water", water_table).optional()};

inline constexpr Object<X> around_table{around_fields, "Round the pipe, by clock position."};

inline void in_section(Reader& part, X& x) {
  double const from = x.stretch.from, to = x.stretch.to, length = x.section_mm;
  if (to > length) {
    part.fail("to", shown(to), "at most the liner's length here, " + shown(length));
  }
  if (!(to > from + 0.1)) {
    part.fail("to", shown(to), "above \"from\", the one before it, " + shown(from));
  }
}

inline constexpr Field<X> stretch_fields[] = {
    F::number("from", along_liner, in_mm, [](X& x, double v) { x.stretch.from = v; }),
    F::number("to", along_liner, in_mm, [](X& x, double v) { x.stretch.to = v; }),
    F::check(in_section)};

inline constexpr Object<X> stretch_table =
    Object<X>(stretch_fields, "[mm] from one end of the liner.").named("stretch");

inline process::Stretch in_metres(process::Stretch const& s) {
  return {1e-3 * s.from, 1e-3 * s.to};
}

inline void length_in_liner(Reader& r, X& x) {
  double const liner = 1e3 * x.c.liner.length;
  if (x.section_mm > liner) {
    r.fail("length_mm", shown(x.section_mm), "at most the liner's length, " + shown(liner));
  }
  x.section.length = 1e-3 * x.section_mm;
}

inline void some_liner(Reader& r, X& x) {
  auto const& gap = x.section.bare_gap;
  if (gap && gap->to - gap->from > 0.999 * x.section.length) {
    r.fail("bare_gap_mm", "the whole length", "a gap that leaves some liner");
  }
}

inline constexpr Field<X> along_fields[] = {
    columns,
    F::number("length_mm", {.low = 10.0, .high = along_liner.high}, in_mm,
              [](X& x, double v) { x.section_mm = v; })
        .or_number(
            [](X const& x) {
              return Default{1e3 * x.c.liner.length, "the whole liner"};
            },
            "the whole liner")
        .means("Of liner, from its end."),
    F::check(length_in_liner),
    F::number("bare_pipe_mm", {.low = 0.0, .high = 10.0}, unit::mm,
              [](X& x, double v) { x.section.bare_pipe = v; })
        .means("Pipe without liner before its end.")
        .or_else("0, a plane of symmetry"),
    profile("liner_thickness_mm", limits::thickness, unit::mm, position, read_position,
            take_thickness)
        .means("A pooled, thick spot; default: liner.thickness_mm everywhere."),
    F::object("bare_gap_mm", stretch_table)
        .means("Where the liner is missing.")
        .optional()
        .and_then([](Reader&, X& x) { x.section.bare_gap = in_metres(x.stretch); }),
    F::object("open_to_soil_mm", stretch_table)
        .means("Where the pipe's wall is missing.")
        .optional()
        .and_then([](Reader&, X& x) { x.section.open_to_soil = in_metres(x.stretch); }),
    F::check(some_liner)};

inline constexpr Object<X> along_table{
    along_fields, "Along the pipe, all round alike; the end at length_mm is a plane of symmetry."};

inline constexpr KindOf<X> kinds[] = {{"around", &around_table}, {"along", &along_table}};

inline constexpr Object<X> table{"kind", kinds,
                                 [](X& x, std::size_t i) {
                                   x.section.kind =
                                       i == 0 ? heat::Section::around : heat::Section::along;
                                   x.section.columns = x.c.discretisation.columns;
                                 },
                                 "Held and after release in two dimensions."};

inline constexpr std::size_t most_cells = 20000;

/// What only the whole case shows. @param d the document
inline void fits(Reader& d, X& x) {
  auto const& c = x.c;
  auto const& s = x.section;
  auto const refuse = [&](char const* key, std::string const& value, std::string const& allowed) {
    d.fail(std::string("section") + key, value, allowed);
  };
  bool in_pipe = false;
  for (auto const& stage : c.stages) in_pipe = in_pipe || stage.index() >= 2;
  if (!in_pipe) refuse("", "no stage in the pipe", "a case with a held or after_release stage");
  double const bore = 0.5 * c.pipe.inner_diameter;
  for (double const t : s.liner_thickness.values()) {
    if (!(t < limits::liner_share * bore)) {
      refuse(
          ".liner_thickness_mm", shown(1e3 * t),
          "less than 40 % of the pipe's inner radius, " + shown(1e3 * limits::liner_share * bore));
    }
    if (!(c.bladder.thickness < limits::bladder_share * (bore - t))) {
      refuse(".liner_thickness_mm", shown(1e3 * t), "room for the bladder inside it");
    }
  }
  auto const& n = c.discretisation;
  auto const rows = n.bladder + n.liner + n.pipe + n.ground;
  if (rows * s.columns > most_cells) {
    refuse(".columns", std::to_string(s.columns) + " with " + std::to_string(rows) + " rows",
           "at most " + std::to_string(most_cells) + " cells in all");
  }
  if (process::too_steep(s, bore)) {
    refuse(".liner_thickness_mm", "a slope above 45 degrees", "thickness that changes gently");
  }
  x.c.section = std::move(x.section);
}

}  // namespace detail::section

/// "section", read after the stages, the ground and the cells.
inline constexpr Field<CaseReading> section_field =
    CaseFields::object("section", detail::section::table)
        .optional()
        .and_then(detail::section::fits);

}  // namespace cure::io
