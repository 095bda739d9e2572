#pragma once
/// Resin files by what they hold, and blends of them, "libcure/resin-blend/1".

#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/io/model_library.hpp"
#include "cure/io/resin_file.hpp"
#include "cure/kinetics/blend.hpp"

namespace cure::io {

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

/// A resin or a blend, whichever the document is. `path` says where relative paths start from, and
/// stands in messages.
/// @throws InputError
CURE_FUNCTION kinetics::Resin<double> resin_in(Json const& document,
                                               std::filesystem::path const& path,
                                               ModelLibrary const& library);
#if CURE_DEFINES(MODELS)
CURE_FUNCTION kinetics::Resin<double> resin_in(Json const& document,
                                               std::filesystem::path const& path,
                                               ModelLibrary const& library) {
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
#endif

/// A resin file or a blend file. @throws InputError
inline kinetics::Resin<double> load_resin(std::filesystem::path const& path,
                                          ModelLibrary const& library) {
  return resin_in(load(path), path, library);
}

}  // namespace cure::io
