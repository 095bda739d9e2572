#pragma once
/// Case documents, "libcure/case/1": what was left out is filled in and written down in
/// Case::defaults.

#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/criteria_file.hpp"
#include "cure/io/ground_file.hpp"
#include "cure/io/material_file.hpp"
#include "cure/io/model_files.hpp"
#include "cure/io/resin_draws.hpp"
#include "cure/io/section_file.hpp"
#include "cure/io/stage_file.hpp"
#include "cure/io/value_reader.hpp"
#include "cure/process/case.hpp"
#include "cure/process/validate.hpp"

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
    read_ground(d);
    read_temperatures(d);
    read_contact(d);
    c_.stages = StageReader(values_, c_).read(d);
    finish_ground(values_, c_);
    read_criteria(d, values_, c_);
    read_discretisation(d, c_.discretisation);
    if (d.has("section")) c_.section = SectionReader(values_, c_).read(d);
    d.finish();
    // What only the whole case shows, such as a ground whose climate leaves the range.
    try {
      process::validate(c_);
    } catch (InputError const& e) {
      throw InputError(e.field(), e.value(), e.allowed(), file_);
    }
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
      auto const parts = blend_parts(d.at("resin", allowed), library_, beside_);
      c_.uncertain_resin = uncertain_resin(parts, resin);
      return resin;
    }
    auto const path = library_.find("resins", d.text("resin", allowed), beside_, "resin", file_);
    auto resin = load_resin(path, library_);
    c_.uncertain_resin = uncertain_resin(resin_parts(path, library_), resin);
    return resin;
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
    c_.pipe.inner_diameter =
        1e-3 * r.number("inner_diameter_mm", in_unit(limits::pipe_diameter, 1e-3));
    c_.pipe.wall = 1e-3 * r.number("wall_mm", in_unit(limits::pipe_wall, 1e-3));
    c_.pipe.material = material(r.text("material", "the id of a material, or a path"), "materials",
                                r.path("material"));
    r.finish();
  }

  void read_liner(Reader& d) {
    auto r = d.object("liner");
    c_.liner.thickness = 1e-3 * r.number("thickness_mm", thickness_range);
    c_.liner.length = 1e-3 * r.number("length_mm", in_unit(limits::liner_length, 1e-3));
    c_.liner.fibre_volume_fraction =
        values_.number_or(r, "fibre_volume_fraction", limits::fibre_volume_fraction, 0.25,
                          "common practice for chopped mat, no source");
    c_.liner.fibre = material_or(r, "fibre", "e-glass");
    double const thickest = limits::liner_share * 0.5 * c_.pipe.inner_diameter;
    if (!(c_.liner.thickness < thickest)) {
      r.fail("thickness_mm", shown(1e3 * c_.liner.thickness),
             "less than 40 % of the pipe's inner radius, " + shown(1e3 * thickest));
    }
    r.finish();
  }

  void read_bladder(Reader& d) {
    if (!d.has("bladder")) {
      c_.bladder = {4e-3, material("natural-rubber", "materials", "bladder.material")};
      values_.by_default("bladder", "4 mm of natural-rubber (common practice, no source)");
    } else {
      auto r = d.object("bladder");
      c_.bladder.thickness = 1e-3 * r.number("thickness_mm", thickness_range);
      c_.bladder.material = material_or(r, "material", "natural-rubber");
      r.finish();
    }
    double const room = limits::bladder_share * c_.bore_radius();
    if (!(c_.bladder.thickness < room)) {
      throw InputError("bladder.thickness_mm", shown(1e3 * c_.bladder.thickness),
                       "less than 90 % of the liner's inner radius, " + shown(1e3 * room), file_);
    }
  }

  void read_temperatures(Reader& d) {
    auto r = d.object_or_empty("initial_temperature_C");
    double const ground_C = celsius_from_kelvin(c_.ground.temperature.at(0.0));
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
    auto material = this->material(r.text("material", "the id of a ground, or a path"), "grounds",
                                   r.path("material"));
    io::read_ground(r, values_, c_, std::move(material));
  }

  void read_contact(Reader& d) {
    auto r = d.object_or_empty("contact_resistance_m2K_W");
    auto const& range = limits::contact_resistance;
    c_.contact.bladder_liner =
        values_.number_or(r, "bladder_liner", range, 0.0, "pressed together");
    c_.contact.liner_pipe =
        values_.number_or(r, "liner_pipe", range, 0.001, "a thin water film and dirt, assumption");
    c_.contact.pipe_ground = values_.number_or(r, "pipe_ground", range, 0.0, "close bedding");
    r.finish();
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
