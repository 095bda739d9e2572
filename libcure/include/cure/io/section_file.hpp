#pragma once
/// "section" of a case document: the wall in two dimensions. Places around the pipe are clock
/// positions (12 the crown, 6 the invert), places along it millimetres from one end of the liner.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/value_reader.hpp"
#include "cure/process/section_wall.hpp"

namespace cure::io {

class SectionReader {
 public:
  SectionReader(ValueReader& values, process::Case const& c) : values_(values), c_(c) {}

  /// To be read after the stages, the ground and the cells. @throws InputError
  process::PipeSection read(Reader& d) {
    auto r = d.object("section");
    bool const around = r.choice("kind", {"around", "along"}) == "around";
    s_.kind = around ? heat::Section::around : heat::Section::along;
    read_columns(r);
    if (around) {
      read_around(r);
    } else {
      read_along(r);
    }
    r.finish();
    check(d, r);
    return std::move(s_);
  }

 private:
  void read_columns(Reader& r) {
    s_.columns = c_.discretisation.columns;
    if (!r.has("columns")) return;
    double const n = r.number("columns", {.low = 8.0, .high = 400.0});
    if (n != 2.0 * std::floor(0.5 * n))
      r.fail("columns", shown(n), "an even whole number, 8 to 400");
    s_.columns = static_cast<std::size_t>(n);
  }

  void read_around(Reader& r) {
    if (r.has("liner_thickness_mm")) {
      s_.liner_thickness = by_clock(r, "liner_thickness_mm", thickness_range, 1e-3);
    }
    if (r.has("ground_offset_K")) {
      s_.ground_offset = by_clock(r, "ground_offset_K", limits::ground_offset, 1.0);
    }
    if (!r.has("water")) return;
    auto w = r.object("water");
    process::InvertWater water;
    double const bore = 1e3 * c_.pipe.inner_diameter;
    double const depth = w.number("depth_mm", {.low = 0.0, .high = 3000.0, .above = true});
    if (depth > bore) {
      w.fail("depth_mm", shown(depth), "at most the pipe's inner diameter, " + shown(bore));
    }
    water.depth = 1e-3 * depth;
    water.temperature = kelvin_from_celsius(
        w.number("temperature_C", in_unit(limits::water_temperature, 1.0, zero_celsius)));
    water.h = values_.number_or(w, "h_W_m2K", limits::h_of_water, 200.0,
                                "water that hardly moves, common practice, no source");
    w.finish();
    s_.water = water;
  }

  void read_along(Reader& r) {
    double const liner = 1e3 * c_.liner.length;
    Range const mm{.low = 0.0, .high = 5e4};
    double const length =
        values_.number_or(r, "length_mm", {.low = 10.0, .high = mm.high}, liner, "the whole liner");
    if (length > liner) {
      r.fail("length_mm", shown(length), "at most the liner's length, " + shown(liner));
    }
    s_.length = 1e-3 * length;
    if (r.has("bare_pipe_mm")) {
      s_.bare_pipe = 1e-3 * r.number("bare_pipe_mm", {.low = 0.0, .high = 1e4});
    }
    if (r.has("liner_thickness_mm")) {
      auto table = r.object("liner_thickness_mm");
      auto at = table.numbers("position_mm", mm);
      auto values = values_at(table, "position_mm", at, thickness_range);
      for (auto& x : at) x *= 1e-3;
      for (auto& v : values) v *= 1e-3;
      s_.liner_thickness = {std::move(at), std::move(values), false};
    }
    for (auto [key, into] :
         {std::pair{"bare_gap_mm", &s_.bare_gap}, std::pair{"open_to_soil_mm", &s_.open_to_soil}}) {
      if (!r.has(key)) continue;
      auto part = r.object(key);
      double const from = part.number("from", mm), to = part.number("to", mm);
      if (to > length)
        part.fail("to", shown(to), "at most the liner's length here, " + shown(length));
      if (!(to > from + 0.1)) {
        part.fail("to", shown(to), "above \"from\", the one before it, " + shown(from));
      }
      part.finish();
      *into = process::Stretch{1e-3 * from, 1e-3 * to};
    }
    if (s_.bare_gap && s_.bare_gap->to - s_.bare_gap->from > 0.999 * s_.length) {
      r.fail("bare_gap_mm", "the whole length", "a gap that leaves some liner");
    }
  }

  /// A table {"clock", "value"}, rising, within 0 to 12.
  process::Profile by_clock(Reader& r, std::string const& key, Range const& range, double factor) {
    auto table = r.object(key);
    auto const clock = table.numbers("clock", {.low = 0.0, .high = 12.0});
    auto const values = values_at(table, "clock", clock, range);
    if (clock.back() - clock.front() >= 12.0) {
      table.fail("clock", "both 0 and 12", "the crown once, as 0 or as 12");
    }
    std::vector<std::pair<double, double>> points;
    for (std::size_t i = 0; i < clock.size(); ++i) {
      double const turn = (clock[i] - 6.0) / 12.0;
      points.emplace_back(process::full_turn * (turn - std::floor(turn)), factor * values[i]);
    }
    std::sort(points.begin(), points.end());
    std::vector<double> angle, value;
    for (auto const& p : points) {
      angle.push_back(p.first);
      value.push_back(p.second);
    }
    return {std::move(angle), std::move(value), true};
  }

  /// "value" of a table, one for each place; closes the table.
  static std::vector<double> values_at(Reader& table, std::string const& key,
                                       std::vector<double> const& at, Range const& range) {
    auto values = table.numbers("value", range);
    table.finish();
    if (values.size() != at.size()) {
      table.fail("value", std::to_string(values.size()) + " values",
                 std::to_string(at.size()) + ", one for each " + key);
    }
    for (std::size_t i = 1; i < at.size(); ++i) {
      if (!(at[i] > at[i - 1])) {
        table.fail(key + "[" + std::to_string(i) + "]", shown(at[i]),
                   "above the one before it, " + shown(at[i - 1]));
      }
    }
    return values;
  }

  /// What only the whole case shows.
  void check(Reader& d, Reader& r) const {
    bool in_pipe = false;
    for (auto const& stage : c_.stages) in_pipe = in_pipe || stage.index() >= 2;
    if (!in_pipe) {
      d.fail("section", "no stage in the pipe", "a case with a held or after_release stage");
    }
    double const bore = 0.5 * c_.pipe.inner_diameter;
    for (double const t : s_.liner_thickness.values()) {
      if (!(t < limits::liner_share * bore)) {
        r.fail("liner_thickness_mm", shown(1e3 * t),
               "less than 40 % of the pipe's inner radius, " +
                   shown(1e3 * limits::liner_share * bore));
      }
      if (!(c_.bladder.thickness < limits::bladder_share * (bore - t))) {
        r.fail("liner_thickness_mm", shown(1e3 * t), "room for the bladder inside it");
      }
    }
    auto const& n = c_.discretisation;
    auto const rows = n.bladder + n.liner + n.pipe + n.ground;
    if (rows * s_.columns > most_cells) {
      r.fail("columns", std::to_string(s_.columns) + " with " + std::to_string(rows) + " rows",
             "at most " + std::to_string(most_cells) + " cells in all");
    }
    if (process::too_steep(s_, bore)) {
      r.fail("liner_thickness_mm", "a slope above 45 degrees", "thickness that changes gently");
    }
  }

  static constexpr std::size_t most_cells = 20000;
  ValueReader& values_;
  process::Case const& c_;
  process::PipeSection s_;
};

}  // namespace cure::io
