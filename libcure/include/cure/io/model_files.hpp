#pragma once
/// Model files: resins, materials and grounds, each number a quantity with unit and provenance.

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include "cure/io/covariance_file.hpp"
#include "cure/io/quantity.hpp"
#include "cure/io/rate_file.hpp"
#include "cure/kinetics/blend.hpp"
#include "cure/kinetics/resin.hpp"
#include "cure/process/limits.hpp"

namespace cure::io {

/// Where ids are looked up: folders with resins/, materials/ and grounds/ below them, first match
/// wins.
struct ModelLibrary {
  std::vector<std::filesystem::path> roots;

  /// File of a model. `name` is an id, or a path (it has a slash or ends in .json) relative to
  /// `beside`. @throws InputError that lists the ids there are
  [[nodiscard]] std::filesystem::path find(std::string const& folder, std::string const& name,
                                           std::filesystem::path const& beside,
                                           std::string const& field,
                                           std::string const& file) const {
    bool const is_path = name.find('/') != std::string::npos || name.ends_with(".json");
    if (is_path) {
      auto const path =
          std::filesystem::path(name).is_absolute() ? std::filesystem::path(name) : beside / name;
      if (is_file(path)) return path;
      throw InputError(field, "\"" + name + "\"", "a file that exists (" + path.string() + ")",
                       file);
    }
    std::set<std::string> known;
    for (auto const& root : roots) {
      auto const path = root / folder / (name + ".json");
      if (!name.empty() && is_file(path)) return path;
      std::error_code error;
      for (auto const& entry : std::filesystem::directory_iterator(root / folder, error)) {
        if (entry.path().extension() == ".json") known.insert(entry.path().stem().string());
      }
    }
    std::string list;
    for (auto const& id : known) list += (list.empty() ? "" : ", ") + id;
    throw InputError(field, "\"" + name + "\"", "one of " + list + ", or a path to a .json file",
                     file);
  }

 private:
  /// A name that no file can have is no file.
  static bool is_file(std::filesystem::path const& path) {
    std::error_code error;
    return std::filesystem::is_regular_file(path, error);
  }
};

namespace detail {

/// By how much the Tg of a method stands above the midpoint of calorimetry [K]; from memory.
inline double Tg_above_midpoint(Reader& g) {
  if (!g.has("method")) return 0.0;
  return g.choice("method", {"calorimetry-midpoint", "storage-modulus-onset"}) ==
                 "storage-modulus-onset"
             ? 10.0
             : 0.0;
}

inline kinetics::DiBenedetto<double> read_glass_transition(Reader& resin,
                                                           kinetics::Resin<double>& r) {
  auto g = resin.object("glass_transition");
  r.Tg_above_midpoint = Tg_above_midpoint(g);
  kinetics::DiBenedetto<double> Tg;
  Tg.Tg0 = quantity(g, "Tg0", units::Kind::temperature, temperature());
  Tg.Tg_inf = quantity(g, "Tg_inf", units::Kind::temperature, {.low = Tg.Tg0, .high = 1500.0});
  Tg.lambda = quantity(g, "lambda", units::Kind::number, process::limits::Tg_lambda);
  g.finish();
  return Tg;
}

/// Linear changes of density, specific heat and conductivity with temperature and cure.
inline void read_variation(Reader& resin, kinetics::Resin<double>& r) {
  auto v = resin.object("variation");
  double const T_ref = quantity(v, "T_ref", units::Kind::temperature, temperature());
  auto const take = [&](char const* key, kinetics::LinearProperty<double>& property) {
    property.T_ref = T_ref;
    if (!v.has(key)) return;
    auto p = v.object(key);
    if (p.has("per_K")) {
      property.a_T =
          quantity(p, "per_K", units::Kind::inverse_temperature, {.low = -5e-3, .high = 5e-3});
    }
    if (p.has("with_cure")) {
      property.a_alpha = quantity(p, "with_cure", units::Kind::number, {.low = -0.5, .high = 0.5});
    }
    p.finish();
  };
  take("density", r.density);
  take("specific_heat", r.specific_heat);
  take("conductivity", r.conductivity);
  v.finish();
}

}  // namespace detail

/// @param limits where what each number may be is written down
/// @throws InputError
inline kinetics::Resin<double> read_resin(Json const& document, std::string const& file,
                                          Limits& limits) {
  using units::Kind;
  Reader d(document, "", file);
  d.note_limits_in(limits);
  expect_format(d, "libcure/resin/1");
  kinetics::Resin<double> r;
  r.id = d.text("id");
  r.title = d.text("title");
  d.text("family");
  r.estimated = d.choice("status", {"published", "estimated"}) == "estimated";
  d.skip("note");
  if (d.has("hazards")) r.hazards = d.texts("hazards");
  r.glass_transition = detail::read_glass_transition(d, r);
  r.rate = detail::read_cure_rate(d, r.glass_transition);
  r.initial_degree_of_cure =
      quantity(d, "initial_degree_of_cure", Kind::number, process::limits::initial_alpha);
  r.heat_of_reaction = quantity(d, "heat_of_reaction", Kind::specific_energy, detail::positive());
  r.density.reference = quantity(d, "density", Kind::density, detail::positive());
  r.specific_heat.reference = quantity(d, "specific_heat", Kind::specific_heat, detail::positive());
  r.conductivity.reference = quantity(d, "conductivity", Kind::conductivity, detail::positive());
  if (d.has("variation")) detail::read_variation(d, r);
  auto gel = d.object("gel");
  r.alpha_gel = quantity(gel, "alpha_gel", Kind::number, process::limits::alpha_gel);
  gel.finish();
  if (d.has("viscosity")) {
    auto v = d.object("viscosity");
    kinetics::CastroMacosko<double> law;
    law.eta0 = quantity(v, "eta0", Kind::viscosity, detail::positive());
    law.E = quantity(v, "E", Kind::molar_energy, {.low = 0.0, .high = 1e6});
    law.A = quantity(v, "A", Kind::number, detail::any());
    law.B = quantity(v, "B", Kind::number, detail::any());
    law.alpha_gel = r.alpha_gel;
    v.finish();
    r.viscosity = law;
  }
  if (d.has("modulus")) {
    auto m = d.object("modulus");
    kinetics::ModulusDevelopment<double> law;
    law.glass = quantity(m, "glass", Kind::pressure, detail::positive());
    law.rubber = quantity(m, "rubber", Kind::pressure, detail::positive());
    law.width = quantity(m, "width", Kind::temperature_difference, detail::positive());
    law.alpha_gel = r.alpha_gel;
    law.glass_transition = r.glass_transition;
    m.finish();
    r.modulus = law;
  }
  if (d.has("shrinkage")) {
    r.shrinkage = {quantity(d, "shrinkage", Kind::number, {.low = 0.0, .high = 0.5}), r.alpha_gel};
  }
  auto limit = d.object("working_limit");
  if (limit.has("viscosity")) {
    if (!r.viscosity) limit.fail("viscosity", "given", "only with a viscosity law in the model");
    r.working_limit.viscosity = quantity(limit, "viscosity", Kind::viscosity, detail::positive());
  } else {
    r.working_limit.fraction_of_gel =
        quantity(limit, "fraction_of_gel", Kind::number, {.low = 0.0, .high = 1.0, .above = true});
  }
  limit.finish();
  auto release = d.object("release");
  r.release_alpha_min = quantity(release, "alpha_min", Kind::number, detail::fraction());
  r.release_Tg_margin = quantity(release, "Tg_above_wall", Kind::temperature_difference,
                                 {.low = -50.0, .high = 200.0});
  release.finish();
  r.temperature_limit = quantity(d, "temperature_limit", Kind::temperature, detail::temperature());
  auto valid = d.object("validity");
  r.validity.temperature_min =
      quantity(valid, "temperature_min", Kind::temperature, detail::temperature());
  r.validity.temperature_max = quantity(valid, "temperature_max", Kind::temperature,
                                        {.low = r.validity.temperature_min, .high = 1500.0});
  r.validity.alpha_max = quantity(valid, "alpha_max", Kind::number, detail::fraction());
  if (valid.has("Tg_margin_max")) {
    r.validity.Tg_margin_max = quantity(valid, "Tg_margin_max", Kind::temperature_difference,
                                        {.low = -50.0, .high = 200.0});
  } else if (document["diffusion"]["form"] == "none") {
    // Its law goes on as if the resin never turned to glass.
    r.validity.Tg_margin_max = 0.0;
  }
  valid.finish();
  d.skip("reference_outcomes");
  if (d.has("covariance")) check_covariance(d, document, limits);
  d.finish();
  return r;
}

/// The same. @throws InputError
inline kinetics::Resin<double> read_resin(Json const& document, std::string const& file) {
  Limits limits;
  return read_resin(document, file, limits);
}

/// The components of a blend: {"components": [{"resin", "share"}, ...]}.
inline kinetics::Resin<double> read_components(Reader& d, ModelLibrary const& library,
                                               std::filesystem::path const& beside) {
  std::vector<kinetics::BlendPart> parts;
  for (auto& component : d.objects("components")) {
    auto const name = component.text("resin", "the id of a resin model, or a path to one");
    double const share = component.number("share", {.low = 0.0, .high = 1.0});
    component.finish();
    auto const path = library.find("resins", name, beside, component.path("resin"), d.file());
    parts.push_back({share, read_resin(load(path), path.string())});
  }
  try {
    return kinetics::blend(parts);
  } catch (InputError const& e) {
    throw InputError(d.path(e.field()), e.value(), e.allowed(), d.file());
  }
}

/// A resin file or a blend file. @throws InputError
inline kinetics::Resin<double> load_resin(std::filesystem::path const& path,
                                          ModelLibrary const& library) {
  auto const document = load(path);
  if (!document.is_object() || document.value("format", Json()) != "libcure/resin-blend/1") {
    return read_resin(document, path.string());
  }
  Reader d(document, "", path.string());
  expect_format(d, "libcure/resin-blend/1");
  auto const id = d.text("id"), title = d.text("title");
  d.skip("note");
  if (d.has("shares")) {
    auto shares = d.object("shares");
    read_origin(shares);
    shares.finish();
  }
  auto resin = read_components(d, library, path.parent_path());
  d.finish();
  resin.id = id;
  resin.title = title;
  return resin;
}

}  // namespace cure::io
