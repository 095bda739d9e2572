#pragma once
/// Where model files are found, and blends of resin files, "libcure/resin-blend/1".

#include <filesystem>
#include <set>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include "cure/io/resin_file.hpp"
#include "cure/kinetics/blend.hpp"

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
    throw InputError(
        field, "\"" + name + "\"",
        "one of " + list + ", or a path to a .json file" + did_you_mean(nearest_id(name, known)),
        file);
  }

 private:
  /// A name that no file can have is no file.
  static bool is_file(std::filesystem::path const& path) {
    std::error_code error;
    return std::filesystem::is_regular_file(path, error);
  }
};

/// Ids of all resins of a library, sorted.
inline std::set<std::string> resin_ids(ModelLibrary const& library) {
  std::set<std::string> ids;
  for (auto const& root : library.roots) {
    std::error_code error;
    for (auto const& entry : std::filesystem::directory_iterator(root / "resins", error)) {
      if (entry.path().extension() == ".json") ids.insert(entry.path().stem().string());
    }
  }
  return ids;
}

inline constexpr char const* blend_format[] = {"libcure/resin-blend/1"};

/// A blend while its document is read.
struct BlendReading {
  ModelLibrary const& library;
  std::filesystem::path const& beside;  ///< folder that relative paths start from
  std::string id = {}, title = {}, name = {};
  double share = 0.0;
  std::vector<kinetics::BlendPart> parts = {};
};

namespace detail::mixture {

using F = ModelFields<BlendReading>;
using X = BlendReading;

inline constexpr Field<X> component_fields[] = {
    F::text(
        "resin", "the id of a resin model, or a path to one",
        [](X& x, std::string t) { x.name = std::move(t); }, not_empty)
        .means("Id of a file in models/resins, or a path to one."),
    F::number("share", fraction(), {}, [](X& x, double v) {
      x.share = v;
    }).means("Of the mass of the blend.")};

inline constexpr Object<X> component_table = Object<X>(component_fields).named("component");

inline void add(Reader& r, X& x) {
  auto const path = x.library.find("resins", x.name, x.beside, r.path("resin"), r.file());
  x.parts.push_back({x.share, read_resin(load(path), path.string())});
}

inline constexpr Field<X> components =
    F::objects("components", component_table, add).elements(2).means("Shares add up to 1.");

inline constexpr Field<X> components_only[] = {components};

inline constexpr Field<X> shares_fields[] = {F::basis(), F::source(), F::where().optional(),
                                             F::note()};

inline constexpr Object<X> shares_table{shares_fields,
                                        "Where the shares of the components come from."};

inline constexpr Field<X> fields[] = {
    F::format(blend_format),
    F::text(
        "id", "a text", [](X& x, std::string t) { x.id = std::move(t); }, not_empty),
    F::text(
        "title", "a text", [](X& x, std::string t) { x.title = std::move(t); }, not_empty),
    F::unread("note").optional(),
    F::object("shares", shares_table).optional(),
    components};

}  // namespace detail::mixture

/// The components of a blend: {"components": [{"resin", "share"}, ...]}.
inline constexpr Object<BlendReading> components_table{detail::mixture::components_only};

/// Blend files.
inline constexpr Object<BlendReading> blend_table{detail::mixture::fields,
                                                  "A blend of resin models of one rate law."};

/// What the parts come to. @throws InputError
inline kinetics::Resin<double> mixed(Reader const& d, BlendReading const& x) {
  try {
    return kinetics::blend(x.parts);
  } catch (InputError const& e) {
    throw InputError(d.path(e.field()), e.value(), e.allowed(), d.file());
  }
}

/// A resin file or a blend file. @throws InputError
inline kinetics::Resin<double> load_resin(std::filesystem::path const& path,
                                          ModelLibrary const& library) {
  auto const document = load(path);
  if (!document.is_object() || document.value("format", Json()) != blend_format[0]) {
    return read_resin(document, path.string());
  }
  auto const beside = path.parent_path();
  BlendReading x{library, beside};
  Reader d(document, "", path.string());
  read_object(blend_table, d, x);
  auto resin = mixed(d, x);
  resin.id = x.id;
  resin.title = x.title;
  return resin;
}

}  // namespace cure::io
