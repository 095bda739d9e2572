#pragma once
/// Where model files are found.

#include <filesystem>
#include <set>
#include <string>
#include <vector>

#include "cure/compiled.hpp"

#if CURE_DEFINES(MODELS)
#include <system_error>

#include "cure/error.hpp"
#include "cure/near_words.hpp"
#endif

namespace cure::io {

/// Where ids are looked up: folders with resins/, materials/ and grounds/ below them, first match
/// wins.
struct ModelLibrary {
  std::vector<std::filesystem::path> roots;
  /// The one folder that documents may name files of, beside ids; empty: they may name any file.
  std::filesystem::path only = {};

  /// File of a model. `name` is an id, or a path (it has a slash or ends in .json) relative to
  /// `beside`. @throws InputError that lists the ids there are
  [[nodiscard]] std::filesystem::path find(std::string const& folder, std::string const& name,
                                           std::filesystem::path const& beside,
                                           std::string const& field, std::string const& file) const;
};

/// Refuses a file that a document names outside a folder, links followed, before anything of it is
/// looked at: whoever serves others' documents must not tell them what files there are.
/// @param only the folder; empty: nothing is refused
/// @throws InputError that shows the name alone
CURE_FUNCTION void confine(std::filesystem::path const& path, std::filesystem::path const& only,
                           std::string const& name, std::string const& field,
                           std::string const& file);

/// Ids of all resins of a library, sorted.
CURE_FUNCTION std::set<std::string> resin_ids(ModelLibrary const& library);

#if CURE_DEFINES(MODELS)
namespace detail {

/// A name that no file can have is no file.
inline bool is_file(std::filesystem::path const& path) {
  std::error_code error;
  return std::filesystem::is_regular_file(path, error);
}

}  // namespace detail

CURE_FUNCTION void confine(std::filesystem::path const& path, std::filesystem::path const& only,
                           std::string const& name, std::string const& field,
                           std::string const& file) {
  if (only.empty()) return;
  std::error_code error;
  auto const folder = std::filesystem::canonical(only, error);
  auto const target =
      error ? folder : std::filesystem::weakly_canonical(std::filesystem::absolute(path), error);
  auto const rest = target.lexically_relative(folder);
  if (error || rest.empty() || *rest.begin() == "..") {
    throw InputError(field, "\"" + name + "\"",
                     "an id, or a file in the one folder that models may come from", file);
  }
}

CURE_FUNCTION std::filesystem::path ModelLibrary::find(std::string const& folder,
                                                       std::string const& name,
                                                       std::filesystem::path const& beside,
                                                       std::string const& field,
                                                       std::string const& file) const {
  bool const is_path = name.find('/') != std::string::npos || name.ends_with(".json");
  if (is_path) {
    auto const path =
        std::filesystem::path(name).is_absolute() ? std::filesystem::path(name) : beside / name;
    confine(path, only, name, field, file);
    if (detail::is_file(path)) return path;
    throw InputError(field, "\"" + name + "\"", "a file that exists (" + path.string() + ")", file);
  }
  std::set<std::string> known;
  for (auto const& root : roots) {
    auto const path = root / folder / (name + ".json");
    if (!name.empty() && detail::is_file(path)) return path;
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

CURE_FUNCTION std::set<std::string> resin_ids(ModelLibrary const& library) {
  std::set<std::string> ids;
  for (auto const& root : library.roots) {
    std::error_code error;
    for (auto const& entry : std::filesystem::directory_iterator(root / "resins", error)) {
      if (entry.path().extension() == ".json") ids.insert(entry.path().stem().string());
    }
  }
  return ids;
}
#endif

}  // namespace cure::io
