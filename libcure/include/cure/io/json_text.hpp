#pragma once
/// JSON text to a document: no deeper and no larger than any of ours, each key once.

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

/// Goes through a text before it is parsed: the depth and the repeated keys cannot be seen in the
/// document any more. (The parser's own callback takes time with the square of a list's length.)
class JsonCheck final : public nlohmann::json_sax<Json> {
 public:
  bool null() override { return true; }
  bool boolean(bool) override { return true; }
  bool number_integer(number_integer_t) override { return true; }
  bool number_unsigned(number_unsigned_t) override { return true; }
  bool number_float(number_float_t, string_t const&) override { return true; }
  bool string(string_t&) override { return true; }
  bool binary(binary_t&) override { return true; }
  bool start_object(std::size_t) override {
    keys_.emplace_back();
    return deeper();
  }
  bool key(string_t& name) override {
    if (repeated.empty() && !keys_.back().insert(name).second) repeated = name;
    return true;
  }
  bool end_object() override {
    keys_.pop_back();
    --depth_;
    return true;
  }
  bool start_array(std::size_t) override { return deeper(); }
  bool end_array() override {
    --depth_;
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
  static constexpr int deepest = 32;
  bool too_deep = false;
  std::string repeated;  ///< a key
  std::string what;      ///< is wrong with the text

 private:
  bool deeper() {
    too_deep = ++depth_ > deepest;
    return !too_deep;
  }

  int depth_ = 0;
  std::vector<std::set<std::string>> keys_;
};

}  // namespace detail

/// Parses JSON text; repeated keys are refused. `file` is for messages only.
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
