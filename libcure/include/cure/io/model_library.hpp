#pragma once
/// Where model files are found.

#include <filesystem>
#include <set>
#include <string>
#include <vector>

#include "cure/compiled.hpp"

#if CURE_DEFINES(MODELS)
#include <cstdlib>
#include <sstream>
#include <system_error>

#include "cure/error.hpp"
#include "cure/near_words.hpp"
#endif

namespace cure::io {

/// Where ids are looked up: folders with resins/, materials/ and grounds/ below them. An id that
/// two of them have is refused: whose numbers it means must not hang on an order.
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

/// Folders of a user's own models: those that the environment's LIBCURE_MODELS names, one after the
/// other with a colon between. @throws InputError for one that is not there
CURE_FUNCTION std::vector<std::filesystem::path> own_model_folders();

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
  std::filesystem::path found;
  for (auto const& root : roots) {
    auto const path = root / folder / (name + ".json");
    if (!name.empty() && detail::is_file(path)) {
      if (found.empty()) {
        found = path;
      } else if (std::error_code same; !std::filesystem::equivalent(found, path, same)) {
        throw InputError(
            field, "\"" + name + "\"",
            "an id that one folder has, not both " + found.string() + " and " + path.string(),
            file);
      }
    }
    std::error_code error;
    for (auto const& entry : std::filesystem::directory_iterator(root / folder, error)) {
      if (entry.path().extension() == ".json") known.insert(entry.path().stem().string());
    }
  }
  if (!found.empty()) return found;
  std::string list;
  for (auto const& id : known) list += (list.empty() ? "" : ", ") + id;
  throw InputError(
      field, "\"" + name + "\"",
      "one of " + list + ", or a path to a .json file" + did_you_mean(nearest_id(name, known)),
      file);
}

CURE_FUNCTION std::vector<std::filesystem::path> own_model_folders() {
  std::vector<std::filesystem::path> folders;
  auto const* told = std::getenv("LIBCURE_MODELS");
  std::istringstream names(told == nullptr ? "" : told);
  for (std::string name; std::getline(names, name, ':');) {
    if (name.empty()) continue;
    std::error_code error;
    if (!std::filesystem::is_directory(name, error)) {
      throw InputError("LIBCURE_MODELS", "\"" + name + "\"",
                       "folders that exist, with resins/, "
                       "materials/ or grounds/ in them, a colon between");
    }
    folders.emplace_back(name);
  }
  return folders;
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
