#pragma once
/// What the tables of a case document read into, and the values that only cases have: those over a
/// stage's time, heat-transfer coefficients, materials by name.

#include <cstddef>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "cure/heat/boundary.hpp"
#include "cure/heat/temperature_cycle.hpp"
#include "cure/io/make_fields.hpp"
#include "cure/io/material_file.hpp"
#include "cure/io/model_files.hpp"
#include "cure/io/points.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/process/case.hpp"
#include "cure/process/limits.hpp"

namespace cure::io {

namespace limits = process::limits;

/// The units of case documents.
namespace unit {
inline constexpr Measure none{}, mm{"mm", 1e-3}, m{"m"}, celsius{"°C", 1.0, zero_celsius},
    kelvin{"K"}, minutes{"min", 60.0}, hours{"h", 3600.0}, kg{"kg"}, m2{"m2"}, h{"W/(m2 K)"},
    flux{"W/m2"}, m_s{"m/s"}, resistance{"m2 K/W"}, bar{"bar", 1e5}, newton{"N"}, K_min{"K/min"};
}  // namespace unit

/// A case while its document is read.
struct CaseReading {
  ModelLibrary const& library;
  std::filesystem::path const& beside;  ///< folder that relative paths in the document start from
  std::string const& file;
  process::Case c = {};
  // Those of the object that is read just now.
  heat::Material material = {};
  bool freezes = false;
  process::ClimatePoint climate = {};
  std::vector<double> months = {};  ///< [degC]
  double cycle_start = 0.0;         ///< [K]
  heat::CycleLeg leg = {};
  std::vector<heat::CycleLeg> legs = {};
  std::size_t stage_kind = 0;  ///< as in process::Stage
  process::MixedMass mixed_mass = {};
  process::WetOut wet_out = {};
  process::Held held = {};
  process::AfterRelease after_release = {};
  process::PipeSection section = {};
  process::Profile profile = {};
  double section_mm = 0.0;        ///< length of a section along the pipe
  process::Stretch stretch = {};  ///< [mm]

  void by_default(std::string const& path, std::string const& text) {
    c.defaults.push_back(path + ": " + text);
  }

  /// A material or ground by its id or path, under a field of the document. @throws InputError
  [[nodiscard]] heat::Material find(std::string const& name, bool ground,
                                    std::string const& field) const {
    auto const path = library.find(ground ? "grounds" : "materials", name, beside, field, file);
    return read_material(load(path), path.string(), ground);
  }
};

/// Makes the fields of cases.
struct CaseFields : Of<CaseReading> {
  using X = CaseReading;
  using SetSchedule = void (*)(X&, numerics::Schedule);

  static constexpr PointShape times{"time_min",
                                    {.low = 0.0, .high = 1e7},
                                    "Rising [min], from the start of the stage.",
                                    "the time before it",
                                    "time"};

  static constexpr PointShape times_from_mixing{"time_min",
                                                {.low = 0.0, .high = 1e7},
                                                "Rising [min], from mixing.",
                                                "the time before it",
                                                "time"};

  /// A number, or a table over time. @param si the range allowed, in SI
  static constexpr Field<X> over_time(char const* key, Range si, Measure unit, SetSchedule set,
                                      PointShape const& points = times) {
    Shape const shape{.number = true, .range = unit.of(si), .unit = unit.unit, .points = &points};
    auto f = field(key, shape, read_over_time);
    f.measure = unit;
    f.set_schedule = set;
    return f;
  }
  /// @throws InputError
  static void read_over_time(Field<X> const& f, Reader& r, X& x) {
    Json const& value = r.at(f.key, "a number, or a table {\"time_min\": [...], \"value\": [...]}");
    if (!value.is_object()) {
      return f.set_schedule(x, f.measure.si(r.number(f.key, f.shape.range)));
    }
    auto table = r.object(f.key);
    auto p = read_points(table, *f.shape.points, f.shape.range);
    for (auto& t : p.at) t *= 60.0;
    for (auto& v : p.values) v = f.measure.si(v);
    f.set_schedule(x, {std::move(p.at), std::move(p.values)});
  }

  static constexpr Field<X> celsius(char const* key, SetSchedule set) {
    return over_time(key, limits::temperature, unit::celsius, set);
  }
  /// The same by the job's clock: of what is there in every stage.
  static constexpr Field<X> celsius_from_mixing(char const* key, SetSchedule set) {
    return over_time(key, limits::temperature, unit::celsius, set, times_from_mixing);
  }
  static constexpr Field<X> celsius(char const* key, Set set) {
    return number(key, limits::temperature, unit::celsius, set);
  }
  static Default air(X const& x) { return {celsius_from_kelvin(x.c.initial.air), "as the air"}; }
  static Default ground(X const& x) {
    return {celsius_from_kelvin(x.c.ground.temperature.at(0.0)), "as the ground"};
  }

  /// "h_W_m2K": a number, a table, or the word of a correlation. @param film what a word does
  static constexpr Field<X> coefficient(double otherwise, SetSchedule set, Words words = {},
                                        Action<X> film = nullptr) {
    auto f = over_time("h_W_m2K", limits::h, unit::h, set)
                 .or_number(otherwise, "common practice, no source");
    if (words.empty()) return f;
    f.shape.text = true;
    f.shape.words = words;
    f.each = film;
    f.read = [](Field<X> const& self, Reader& r, X& x) {
      if (!r.at(self.key, "a number").is_string()) return read_over_time(self, r, x);
      r.choice(self.key, self.shape.words);
      self.set_schedule(x, 0.0);
      self.each(r, x);
    };
    return f;
  }

  /// The id of a material, or a path to its file. @param take its turn, once it is `x.material`
  /// @param otherwise the id of what serves when it is left out; empty: nothing does
  static constexpr Field<X> model(char const* key, Action<X> take, char const* otherwise = "") {
    auto f = field(key, detail::not_empty, [](Field<X> const& self, Reader& r, X& x) {
      std::string id = self.otherwise;
      if (self.required || r.has(self.key)) {
        id = r.text(self.key, "the id of a material, or a path");
      } else {
        x.by_default(r.path(self.key), id);
      }
      x.material = x.find(id, false, r.path(self.key));
    });
    f.required = *otherwise == '\0';
    f.otherwise = otherwise;
    f.read_anyway = true;
    return f.and_then(take).means("Id of a file in models/materials, or a path to one.");
  }
  static constexpr Field<X> ground_model(char const* key, Action<X> take) {
    return field(key, detail::not_empty,
                 [](Field<X> const& self, Reader& r, X& x) {
                   auto const id = r.text(self.key, "the id of a ground, or a path");
                   x.material = x.find(id, true, r.path(self.key));
                 })
        .and_then(take)
        .means("Id of a file in models/grounds, or a path to one.");
  }
};

}  // namespace cure::io
