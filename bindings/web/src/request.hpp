#pragma once
/// What several calls read: the case, and whose ranges are taken.

#include <cmath>
#include <optional>
#include <string>

#include "calls.hpp"
#include "cure/decide/answer.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/stated_file.hpp"

namespace cure::web {

inline std::string text_or(io::Reader& r, char const* key, std::string otherwise) {
  return r.has(key) ? r.text(key) : otherwise;
}

inline process::Case case_of(io::Reader& r, std::string const& name) {
  return io::read_case(r.at("case", "a case document"), library(), models_folder, name);
}

/// @throws InputError
inline bool flag(io::Reader& r, char const* key, bool otherwise = false) {
  return r.has(key) ? r.flag(key) : otherwise;
}

/// Keys: samples, numerical_error; both may be left out.
inline decide::Options options_of(io::Reader& r) {
  decide::Options options;
  options.threads = 1;  // the module has no others
  if (r.has("samples")) {
    double const n = r.number("samples", {.low = 16.0, .high = 65536.0});
    if (n != std::floor(n)) r.fail("samples", shown(n), "a power of two, 16 to 65536");
    options.samples = static_cast<std::size_t>(n);
  }
  options.numerical_error = flag(r, "numerical_error", true);
  return options;
}

/// "usual", "none", or the part "uncertain" of a chart document; left out: the usual ones.
inline std::optional<uncertain::Stated> stated_of(io::Reader& r) {
  auto source = text_or(r, "source", "the ranges given");
  if (!r.has("uncertain") || r.is_word("uncertain", "usual")) return uncertain::usual();
  if (r.is_word("uncertain", "none")) return std::nullopt;
  return io::read_stated(r.at("uncertain", "usual, none, or ranges"), std::move(source));
}

}  // namespace cure::web
