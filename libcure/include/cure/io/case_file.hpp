#pragma once
/// Case documents, "libcure/case/1": what was left out is filled in and written down in
/// Case::defaults.

#include <cmath>
#include <cstddef>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/criteria_file.hpp"
#include "cure/io/model_files.hpp"
#include "cure/io/section_file.hpp"
#include "cure/io/value_reader.hpp"
#include "cure/process/case.hpp"

namespace cure::io {

/// Reads one case. Units of the document are turned into SI here and nowhere else.
class CaseReader {
 public:
  /// @param beside folder that relative paths in the document start from
  CaseReader(ModelLibrary library, std::filesystem::path beside, std::string file)
      : library_(std::move(library)), beside_(std::move(beside)), file_(std::move(file)) {}

  /// @throws InputError
  process::Case read(Json const& document) {
    Reader d(document, "", file_);
    expect_format(d, "libcure/case/1");
    if (d.has("title")) c_.title = d.text("title");
    if (d.has("note")) d.text("note");
    c_.resin = read_resin_model(d);
    read_pipe(d);
    read_liner(d);
    read_bladder(d);
    read_temperatures(d);
    read_ground(d);
    read_contact(d);
    read_stages(d);
    finish_ground();
    read_criteria(d, values_, c_);
    read_discretisation(d, c_.discretisation);
    if (d.has("section")) c_.section = SectionReader(values_, c_).read(d);
    d.finish();
    return std::move(c_);
  }

 private:
  /// An id, a path, or a blend {"components": [...]}.
  kinetics::Resin<double> read_resin_model(Reader& d) {
    auto const allowed =
        "the id of a resin model, a path to one, or a blend {\"components\": [...]}";
    if (d.at("resin", allowed).is_object()) {
      auto r = d.object("resin");
      auto resin = read_components(r, library_, beside_);
      r.finish();
      resin.title.clear();
      for (auto const& c : d.at("resin", allowed)["components"]) {
        resin.title += (resin.title.empty() ? "" : " + ") +
                       shown(100.0 * c["share"].get<double>()) + " % " +
                       c["resin"].get<std::string>();
      }
      resin.id = resin.title;
      return resin;
    }
    auto const name = d.text("resin", allowed);
    return load_resin(library_.find("resins", name, beside_, "resin", file_), library_);
  }

  heat::Material material(std::string const& name, std::string const& folder,
                          std::string const& field) {
    auto const path = library_.find(folder, name, beside_, field, file_);
    return read_material(load(path), path.string(),
                         folder == "grounds" ? "libcure/ground/1" : "libcure/material/1");
  }

  heat::Material material_or(Reader& r, std::string const& key, std::string const& otherwise) {
    if (!r.has(key)) {
      values_.by_default(r.path(key), otherwise);
      return material(otherwise, "materials", r.path(key));
    }
    return material(r.text(key, "the id of a material, or a path"), "materials", r.path(key));
  }

  void read_pipe(Reader& d) {
    auto r = d.object("pipe");
    c_.pipe.inner_diameter = 1e-3 * r.number("inner_diameter_mm", {.low = 20.0, .high = 3000.0});
    c_.pipe.wall = 1e-3 * r.number("wall_mm", {.low = 0.5, .high = 500.0});
    c_.pipe.material = material(r.text("material", "the id of a material, or a path"), "materials",
                                r.path("material"));
    r.finish();
  }

  void read_liner(Reader& d) {
    auto r = d.object("liner");
    c_.liner.thickness = 1e-3 * r.number("thickness_mm", {.low = 0.3, .high = 60.0});
    c_.liner.length = 1e-3 * r.number("length_mm", {.low = 50.0, .high = 50000.0});
    c_.liner.fibre_volume_fraction =
        values_.number_or(r, "fibre_volume_fraction", {.low = 0.0, .high = 0.7}, 0.25,
                          "common practice for chopped mat, no source");
    c_.liner.fibre = material_or(r, "fibre", "e-glass");
    if (!(c_.liner.thickness < 0.4 * 0.5 * c_.pipe.inner_diameter)) {
      r.fail("thickness_mm", shown(1e3 * c_.liner.thickness),
             "less than 40 % of the pipe's inner radius, " +
                 shown(0.4 * 0.5e3 * c_.pipe.inner_diameter));
    }
    r.finish();
  }

  void read_bladder(Reader& d) {
    if (!d.has("bladder")) {
      c_.bladder = {4e-3, material("natural-rubber", "materials", "bladder.material")};
      values_.by_default("bladder", "4 mm of natural-rubber (common practice, no source)");
    } else {
      auto r = d.object("bladder");
      c_.bladder.thickness = 1e-3 * r.number("thickness_mm", {.low = 0.3, .high = 60.0});
      c_.bladder.material = material_or(r, "material", "natural-rubber");
      r.finish();
    }
    if (!(c_.bladder.thickness < 0.9 * c_.bore_radius())) {
      throw InputError(
          "bladder.thickness_mm", shown(1e3 * c_.bladder.thickness),
          "less than 90 % of the liner's inner radius, " + shown(0.9e3 * c_.bore_radius()), file_);
    }
  }

  void read_temperatures(Reader& d) {
    auto r = d.object_or_empty("initial_temperature_C");
    auto ground = d.object("ground");
    auto const ground_C =
        values_.schedule(ground, "temperature_C", celsius_range, 1.0, 0.0).at(0.0);
    auto const take = [&](char const* key, double otherwise_C, char const* why) {
      return kelvin_from_celsius(values_.number_or(r, key, celsius_range, otherwise_C, why));
    };
    c_.initial.air = take("air", 15.0, "a mild day, no source");
    double const air_C = celsius_from_kelvin(c_.initial.air);
    c_.initial.resin = take("resin", air_C, "as the air");
    c_.initial.fibre = take("fibre", air_C, "as the air");
    c_.initial.packer = take("packer", air_C, "as the air");
    c_.initial.pipe = take("pipe", ground_C, "as the ground");
    r.finish();
  }

  void read_ground(Reader& d) {
    auto r = d.object("ground");
    c_.ground.material = material(r.text("material", "the id of a ground, or a path"), "grounds",
                                  r.path("material"));
    c_.ground.temperature = values_.schedule(r, "temperature_C", celsius_range, 1.0, zero_celsius);
    double const outer = 0.5 * c_.pipe.inner_diameter + c_.pipe.wall;
    if (r.has("radius_m")) {
      c_.ground.radius = r.number("radius_m", {.low = outer + 0.05, .high = 50.0});
    }
    r.finish();
  }

  /// A far radius of four diffusion lengths: a surface step decays to erfc(2) = 0.5 % there even in
  /// the plane (H.S. Carslaw, J.C. Jaeger, "Conduction of Heat in Solids", 2nd ed., 1959,
  /// sec. 2.4).
  void finish_ground() {
    if (c_.ground.radius > 0.0) return;
    double total = 0.0;
    for (auto const& s : c_.stages) {
      if (s.index() >= 2) total += process::duration(s);
    }
    double const depth = 4.0 * std::sqrt(c_.ground.material.diffusivity() * total);
    c_.ground.radius = 0.5 * c_.pipe.inner_diameter + c_.pipe.wall + std::max(0.1, depth);
    values_.by_default("ground.radius_m", shown(c_.ground.radius, 3) + " (four diffusion lengths)");
  }

  void read_contact(Reader& d) {
    auto r = d.object_or_empty("contact_resistance_m2K_W");
    Range const range{.low = 0.0, .high = 10.0};
    c_.contact.bladder_liner =
        values_.number_or(r, "bladder_liner", range, 0.0, "pressed together");
    c_.contact.liner_pipe =
        values_.number_or(r, "liner_pipe", range, 0.001, "a thin water film and dirt, assumption");
    c_.contact.pipe_ground = values_.number_or(r, "pipe_ground", range, 0.0, "close bedding");
    r.finish();
  }

  void read_stages(Reader& d) {
    auto stages = d.objects("stages");
    if (stages.empty()) d.fail("stages", "an empty list", "at least one stage");
    std::size_t last = 0;
    for (auto& r : stages) {
      auto const kind = r.choice("kind", {"mixed_mass", "wet_out", "held", "after_release"});
      auto stage = read_stage(r, kind);
      r.finish();
      if (stage.index() < last || (stage.index() == last && !c_.stages.empty())) {
        r.fail("kind", "\"" + kind + "\"",
               "stages in the order mixed_mass, wet_out, held, after_release, each once");
      }
      last = stage.index();
      c_.stages.push_back(std::move(stage));
    }
  }

  process::Stage read_stage(Reader& r, std::string const& kind) {
    double const minutes = r.number("duration_min", {.low = 0.0, .high = 1e6, .above = true});
    double const seconds = 60.0 * minutes;
    double const air = c_.initial.air;
    if (kind == "mixed_mass") {
      process::MixedMass s;
      s.duration = seconds;
      s.mass = values_.number_or(r, "mass_kg", {.low = 0.0, .high = 1000.0, .above = true},
                                 c_.resin_in_liner(), "the resin that the liner holds");
      // A pouch laid flat, 20 mm thick, both faces free.
      double const flat = 2.0 * s.mass / c_.resin.density.reference / 0.02;
      s.surface_area = values_.number_or(r, "surface_area_m2", {.low = 0.0, .high = 100.0}, flat,
                                         "a flat pouch 20 mm thick");
      s.h = values_.h_or(r, 8.0);
      s.ambient = values_.celsius_or(r, "ambient_temperature_C", air, "as the air");
      return s;
    }
    if (kind == "wet_out") {
      process::WetOut s;
      s.duration = seconds;
      s.h = values_.h_or(r, 10.0);
      s.ambient = values_.celsius_or(r, "ambient_temperature_C", air, "as the air");
      s.absorbed_sun = values_.schedule_or(r, "absorbed_sun_W_m2", {.low = 0.0, .high = 2000.0},
                                           1.0, 0.0, 0.0, "shade");
      s.on_packer = !r.has("on") || r.choice("on", {"packer", "table"}) == "packer";
      if (!r.has("on")) values_.by_default(r.path("on"), "packer");
      return s;
    }
    if (kind == "held") {
      process::Held s;
      s.duration = seconds;
      s.fill_temperature = values_.celsius_or(r, "fill_temperature_C", air, "as the air");
      s.h = values_.h_or(r, 10.0);
      s.until_release =
          r.has("ends") &&
          r.choice("ends", {"at_duration", "at_recommended_release"}) == "at_recommended_release";
      return s;
    }
    process::AfterRelease s;
    s.duration = seconds;
    s.bore_temperature =
        values_.celsius_or(r, "bore_temperature_C", c_.ground.temperature.at(0.0), "as the ground");
    s.h = values_.h_or(r, 5.0);
    return s;
  }

  ModelLibrary library_;
  std::filesystem::path beside_;
  std::string file_;
  process::Case c_;
  ValueReader values_{c_.defaults};
};

/// @throws InputError
inline process::Case load_case(std::filesystem::path const& path, ModelLibrary const& library) {
  return CaseReader(library, path.parent_path(), path.string()).read(load(path));
}

/// A case from JSON text. `name` stands for the file in messages. @throws InputError
inline process::Case parse_case(std::string const& text, ModelLibrary const& library,
                                std::filesystem::path const& beside, std::string const& name) {
  return CaseReader(library, beside, name).read(parse(text, name));
}

}  // namespace cure::io
