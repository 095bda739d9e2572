#pragma once
/// Strict reading of JSON documents. Every value is asked for by name with its allowed range; what
/// was not asked for is refused; every refusal is an InputError that names the path, the value,
/// what is allowed and the file.

#include <algorithm>
#include <cstddef>
#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/range.hpp"

namespace cure::io {

using Json = nlohmann::json;

/// Number of single-character edits between two words (Levenshtein), for "did you mean".
inline std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      std::size_t const change = diagonal + (a[i - 1] == b[j - 1] ? 0u : 1u);
      diagonal = row[j];
      row[j] = std::min({change, row[j] + 1, row[j - 1] + 1});
    }
  }
  return row[b.size()];
}

/// Limits of a document's quantities by path, each in the quantity's own unit.
using Limits = std::map<std::string, Range>;

/// One JSON object of a document, with its path for messages. Remembers which keys were asked for;
/// finish() refuses the rest.
class Reader {
 public:
  Reader(Json const& object, std::string path, std::string file)
      : object_(&object), path_(std::move(path)), file_(std::move(file)) {
    if (!object.is_object()) fail_here(kind_of(object), "an object {...}");
  }

  /// Where the limits of what is read from here on are written down.
  void note_limits_in(Limits& limits) { limits_ = &limits; }
  void note_limits(Range const& range) const {
    if (limits_ != nullptr) limits_->insert_or_assign(path_, range);
  }

  [[nodiscard]] std::string const& file() const { return file_; }
  [[nodiscard]] std::string path(std::string_view key) const {
    return path_.empty() ? std::string(key) : path_ + "." + std::string(key);
  }

  [[nodiscard]] bool has(std::string const& key) {
    asked_.insert(key);
    return object_->contains(key);
  }

  /// The value of a key that must be there.
  Json const& at(std::string const& key, std::string const& allowed) {
    if (!has(key)) fail(key, "missing", allowed + near_miss(key));
    return (*object_)[key];
  }

  double number(std::string const& key, Range const& range) {
    return checked_number(at(key, "a number, " + range.text()), path(key), range);
  }

  double checked_number(Json const& value, std::string const& where, Range const& range) const {
    if (!value.is_number())
      throw InputError(where, shown_value(value), "a number, " + range.text(), file_);
    double const x = value.get<double>();
    if (!range.holds(x)) throw InputError(where, value.dump(), range.text(), file_);
    return x;
  }

  std::string text(std::string const& key, std::string const& allowed = "a text") {
    Json const& value = at(key, allowed);
    if (!value.is_string()) fail(key, shown_value(value), allowed);
    return value.get<std::string>();
  }

  /// A text that must be one of a list.
  std::string choice(std::string const& key, std::vector<std::string> const& choices) {
    std::string list;
    for (auto const& c : choices) list += (list.empty() ? "" : ", ") + c;
    auto const word = text(key, "one of " + list);
    if (std::find(choices.begin(), choices.end(), word) == choices.end()) {
      fail(key, "\"" + word + "\"", "one of " + list);
    }
    return word;
  }

  Reader object(std::string const& key) {
    Reader inner(at(key, "an object {...}"), path(key), file_);
    inner.limits_ = limits_;
    return inner;
  }

  /// The object of a key that may be left out; then an empty one.
  Reader object_or_empty(std::string const& key) {
    static Json const empty = Json::object();
    return has(key) ? object(key) : Reader(empty, path(key), file_);
  }

  /// The elements of an array of objects.
  std::vector<Reader> objects(std::string const& key) {
    Json const& value = at(key, "a list of objects");
    if (!value.is_array()) fail(key, kind_of(value), "a list of objects");
    std::vector<Reader> elements;
    for (std::size_t i = 0; i < value.size(); ++i) {
      elements.emplace_back(value[i], path(key) + "[" + std::to_string(i) + "]", file_);
      elements.back().limits_ = limits_;
    }
    return elements;
  }

  std::vector<double> numbers(std::string const& key, Range const& range) {
    Json const& value = at(key, "a list of numbers");
    if (!value.is_array() || value.empty()) fail(key, kind_of(value), "a list of numbers");
    std::vector<double> list;
    for (std::size_t i = 0; i < value.size(); ++i) {
      list.push_back(checked_number(value[i], path(key) + "[" + std::to_string(i) + "]", range));
    }
    return list;
  }

  std::vector<std::string> texts(std::string const& key) {
    Json const& value = at(key, "a list of texts");
    std::vector<std::string> list;
    if (!value.is_array()) fail(key, kind_of(value), "a list of texts");
    for (auto const& element : value) {
      if (!element.is_string()) fail(key, shown_value(element), "a list of texts");
      list.push_back(element.get<std::string>());
    }
    return list;
  }

  /// Accepts a key without reading it (notes for people).
  void skip(std::string const& key) { asked_.insert(key); }

  /// Refuses keys that nobody asked for.
  void finish() const {
    for (auto const& [key, value] : object_->items()) {
      if (asked_.contains(key)) continue;
      std::string nearest, known;
      std::size_t best = std::max<std::size_t>(3, key.size() / 3);
      for (auto const& candidate : asked_) {
        known += (known.empty() ? "" : ", ") + candidate;
        auto const d = edit_distance(key, candidate);
        if (d < best) {
          best = d;
          nearest = candidate;
        }
      }
      fail(key, "unknown key",
           nearest.empty() ? "one of " + known : "did you mean \"" + nearest + "\"?");
    }
  }

  [[noreturn]] void fail(std::string const& key, std::string const& value,
                         std::string const& allowed) const {
    throw InputError(path(key), value, allowed, file_);
  }

  static std::string kind_of(Json const& value) {
    if (value.is_array() && value.empty()) return "an empty list";
    return std::string("a JSON ") + value.type_name();
  }
  static std::string shown_value(Json const& value) {
    auto text = value.dump();
    if (text.size() <= 60) return text;
    std::size_t cut = 57;  // at the start of a letter of UTF-8
    while (cut > 0 && (static_cast<unsigned char>(text[cut]) & 0xC0u) == 0x80u) --cut;
    return text.substr(0, cut) + "...";
  }

 private:
  /// Names a key that may stand for a missing one, such as another unit of it.
  [[nodiscard]] std::string near_miss(std::string const& key) const {
    for (auto const& [given, value] : object_->items()) {
      if (!asked_.contains(given) &&
          edit_distance(given, key) <= std::min<std::size_t>(3, key.size() / 4)) {
        return "; did you mean \"" + key + "\" by \"" + given + "\"?";
      }
    }
    return {};
  }

  [[noreturn]] void fail_here(std::string const& value, std::string const& allowed) const {
    throw InputError(path_.empty() ? "document" : path_, value, allowed, file_);
  }

  Json const* object_;
  Limits* limits_ = nullptr;
  std::string path_, file_;
  std::set<std::string> asked_;
};

/// Parses JSON text; repeated keys are refused. `file` is for messages only.
/// @throws InputError
inline Json parse(std::string const& text, std::string const& file) {
  std::vector<std::set<std::string>> seen;
  std::string repeated;
  // No document of ours is deep, and one that nests without end would exhaust the stack later.
  constexpr int deepest = 32;
  auto const watch = [&](int depth, Json::parse_event_t event, Json& parsed) {
    if (depth > deepest) {
      throw InputError("document", "nested deeper than " + std::to_string(deepest),
                       "a JSON document", file);
    }
    if (event == Json::parse_event_t::object_start) seen.emplace_back();
    if (event == Json::parse_event_t::object_end) seen.pop_back();
    if (event == Json::parse_event_t::key && repeated.empty() &&
        !seen.back().insert(parsed.get<std::string>()).second) {
      repeated = parsed.get<std::string>();
    }
    return true;
  };
  Json document;
  try {
    document = Json::parse(text, watch);
  } catch (Json::exception const& e) {
    std::string what = e.what();
    if (auto const at = what.find("] "); at != std::string::npos) what = what.substr(at + 2);
    std::replace(what.begin(), what.end(), '\n', ' ');
    throw InputError("document", "not JSON (" + what + ")", "a JSON document", file);
  }
  if (!repeated.empty()) throw InputError(repeated, "given twice", "each key once", file);
  return document;
}

/// Reads and parses a file. @throws InputError
inline Json load(std::filesystem::path const& path) {
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

/// Checks the "format" key. @throws InputError
inline void expect_format(Reader& reader, std::string const& format) {
  auto const given = reader.text("format", "\"" + format + "\"");
  if (given != format) reader.fail("format", "\"" + given + "\"", "\"" + format + "\"");
}

}  // namespace cure::io
