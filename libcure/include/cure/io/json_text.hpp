#pragma once
/// JSON text to a document: no deeper and no larger than any of ours, each key once, and no number
/// whose size no quantity has.

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <system_error>
#include <utility>
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

/// Makes the document, and notes what cannot be seen in it any more: depth, repeated keys, and what
/// was too small for a double.
class JsonReading final : public nlohmann::json_sax<Json> {
 public:
  JsonReading() {}  // not noexcept, as Json's is not
  JsonReading(JsonReading const&) = delete;
  JsonReading& operator=(JsonReading const&) = delete;

  bool null() override { return taken(nullptr); }
  bool boolean(bool x) override { return taken(x); }
  bool number_integer(number_integer_t x) override { return taken(x); }
  bool number_unsigned(number_unsigned_t x) override { return taken(x); }
  bool number_float(number_float_t x, string_t const& text) override {
    add(x);
    auto const digits = text.substr(0, text.find_first_of("eE"));
    bool const zero = digits.find_first_of("123456789") == std::string::npos;
    double const size = std::abs(x);
    if (odd_number.empty() && !zero && !(size >= smallest_size && size <= largest_size)) {
      odd_number = text;
      odd_path = path();
    }
    return true;
  }
  bool string(string_t& text) override { return taken(std::move(text)); }
  bool binary(binary_t&) override { return false; }  // no text has any
  bool start_object(std::size_t) override { return deeper(Json::value_t::object); }
  bool key(string_t& name) override {
    auto& level = levels_.back();
    if (repeated.empty() && level.at->contains(name)) repeated = name;
    level.key = name;
    return true;
  }
  bool end_object() override { return higher(); }
  bool start_array(std::size_t) override { return deeper(Json::value_t::array); }
  bool end_array() override { return higher(); }
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
  Json document;

 private:
  /// A list or object that is being read.
  struct Level {
    Json* at;
    std::string key = {};  ///< of an object, the last one
  };

  Json& add(Json value) {
    if (levels_.empty()) return document = std::move(value);
    auto& [at, key] = levels_.back();
    if (!at->is_array()) return (*at)[key] = std::move(value);
    at->push_back(std::move(value));
    return at->back();
  }
  bool taken(Json value) {
    add(std::move(value));
    return true;
  }
  bool deeper(Json::value_t kind) {
    auto& value = add(kind);
    levels_.push_back({&value});
    too_deep = levels_.size() > deepest;
    return !too_deep;
  }
  bool higher() {
    levels_.pop_back();
    return true;
  }
  [[nodiscard]] std::string path() const {
    std::string found;
    for (auto const& level : levels_) {
      if (level.at->is_array()) {
        found.append("[").append(std::to_string(level.at->size() - 1)).append("]");
      } else {
        found.append(found.empty() ? "" : ".").append(level.key);
      }
    }
    return found.empty() ? "document" : found;
  }

  std::vector<Level> levels_;
};

}  // namespace detail

/// Parses JSON text; repeated keys and numbers of no size are refused. `file` is for messages only.
/// @throws InputError
CURE_FUNCTION Json parse(std::string const& text, std::string const& file);
#if CURE_DEFINES(JSON)
CURE_FUNCTION Json parse(std::string const& text, std::string const& file) {
  detail::JsonReading reading;
  // Past Json::sax_parse, which would have the readers of five binary formats compiled too.
  auto input = nlohmann::detail::input_adapter(text);
  nlohmann::detail::parser<Json, decltype(input)>(std::move(input)).sax_parse(&reading);
  if (reading.too_deep) {
    throw InputError("document", "nested deeper than " + std::to_string(reading.deepest),
                     "a JSON document", file);
  }
  if (!reading.what.empty()) {
    throw InputError("document", "not JSON (" + reading.what + ")",
                     "a JSON document" + number_meant_in(text), file);
  }
  if (!reading.repeated.empty())
    throw InputError(reading.repeated, "given twice", "each key once", file);
  if (!reading.odd_number.empty())
    throw InputError(reading.odd_path, reading.odd_number, detail::number_sizes, file);
  return std::move(reading.document);
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
