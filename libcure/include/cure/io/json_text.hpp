#pragma once
/// JSON text to a document: no deeper and no larger than any of ours, each key once, and no number
/// whose size no quantity has.

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>
#include <string>
#include <system_error>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/error.hpp"
#include "cure/io/near_words.hpp"
#include "cure/io/shape.hpp"

namespace cure::io {

namespace detail {

/// Sizes of numbers in documents, in any unit; their squares and cubes are numbers still.
inline constexpr double smallest_size = 1e-100, largest_size = 1e100;
inline constexpr char const* number_sizes = "0, or of a size from 1e-100 to 1e100";

/// Goes through a text before it is parsed: depth, repeated keys and what was too small for a
/// double cannot be seen in the document any more. (The parser's own callback takes time with the
/// square of a list's length.)
class JsonCheck final : public nlohmann::json_sax<Json> {
 public:
  bool null() override { return counted(); }
  bool boolean(bool) override { return counted(); }
  bool number_integer(number_integer_t) override { return counted(); }
  bool number_unsigned(number_unsigned_t) override { return counted(); }
  bool number_float(number_float_t x, string_t const& text) override {
    counted();
    auto const digits = text.substr(0, text.find_first_of("eE"));
    bool const zero = digits.find_first_of("123456789") == std::string::npos;
    double const size = std::abs(x);
    if (odd_number.empty() && !zero && !(size >= smallest_size && size <= largest_size)) {
      odd_number = text;
      odd_path = path();
    }
    return true;
  }
  bool string(string_t&) override { return counted(); }
  bool binary(binary_t&) override { return counted(); }
  bool start_object(std::size_t) override {
    counted();
    keys_.emplace_back();
    levels_.emplace_back();
    return deeper();
  }
  bool key(string_t& name) override {
    if (repeated.empty() && !keys_.back().insert(name).second) repeated = name;
    levels_.back().key = name;
    return true;
  }
  bool end_object() override {
    keys_.pop_back();
    levels_.pop_back();
    return true;
  }
  bool start_array(std::size_t) override {
    counted();
    levels_.emplace_back();
    return deeper();
  }
  bool end_array() override {
    levels_.pop_back();
    return true;
  }
  bool parse_error(std::size_t, std::string const&, nlohmann::detail::exception const& e) override {
    what = e.what();
    if (auto const at = what.find("] "); at != std::string::npos) what = what.substr(at + 2);
    // Not what stands there: the file may be one that nobody is to read.
    what = what.substr(0, what.find("; last read"));
    return false;
  }

  /// No document of ours is deep, and one that nests without end would exhaust the stack later.
  static constexpr std::size_t deepest = 32;
  bool too_deep = false;
  std::string repeated;              ///< a key
  std::string odd_number, odd_path;  ///< as it stands, and where
  std::string what;                  ///< is wrong with the text

 private:
  struct Level {
    std::string key = {};   ///< of an object
    std::size_t count = 0;  ///< values of a list so far
  };

  bool deeper() {
    too_deep = levels_.size() > deepest;
    return !too_deep;
  }
  bool counted() {
    if (!levels_.empty()) ++levels_.back().count;
    return true;
  }
  [[nodiscard]] std::string path() const {
    std::string found;
    for (auto const& level : levels_) {
      if (level.key.empty()) {
        found.append("[").append(std::to_string(level.count - 1)).append("]");
      } else {
        found.append(found.empty() ? "" : ".").append(level.key);
      }
    }
    return found.empty() ? "document" : found;
  }

  std::vector<Level> levels_;
  std::vector<std::set<std::string>> keys_;
};

}  // namespace detail

/// Parses JSON text; repeated keys and numbers of no size are refused. `file` is for messages only.
/// @throws InputError
CURE_FUNCTION Json parse(std::string const& text, std::string const& file);
#if CURE_DEFINES(JSON)
CURE_FUNCTION Json parse(std::string const& text, std::string const& file) {
  detail::JsonCheck check;
  Json::sax_parse(text, &check);
  if (check.too_deep) {
    throw InputError("document", "nested deeper than " + std::to_string(check.deepest),
                     "a JSON document", file);
  }
  if (!check.what.empty()) {
    throw InputError("document", "not JSON (" + check.what + ")",
                     "a JSON document" + number_meant_in(text), file);
  }
  if (!check.repeated.empty())
    throw InputError(check.repeated, "given twice", "each key once", file);
  if (!check.odd_number.empty())
    throw InputError(check.odd_path, check.odd_number, detail::number_sizes, file);
  return Json::parse(text);
}
#endif

/// Reads and parses a file. @throws InputError
CURE_FUNCTION Json load(std::filesystem::path const& path);
#if CURE_DEFINES(JSON)
CURE_FUNCTION Json load(std::filesystem::path const& path) {
  std::error_code error;
  auto const size = std::filesystem::file_size(path, error);
  std::ifstream in(path, std::ios::binary);
  if (error || !in) throw InputError("file", "cannot be read", "a readable file", path.string());
  constexpr std::uintmax_t most = 16u << 20;
  if (size > most) {
    throw InputError("file", std::to_string(size) + " bytes", "at most 16 MiB", path.string());
  }
  std::ostringstream text;
  text << in.rdbuf();
  return parse(text.str(), path.string());
}
#endif

}  // namespace cure::io
