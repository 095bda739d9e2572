#pragma once
/// Strict reading of JSON documents. Every value is asked for by name with its allowed range; what
/// was not asked for is refused; every refusal is an InputError that names the path, the value,
/// what is allowed and the file.

#include <algorithm>
#include <cstddef>
#include <map>
#include <memory>
#include <nlohmann/json.hpp>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/io/json_text.hpp"
#include "cure/io/near_words.hpp"
#include "cure/io/shape.hpp"
#include "cure/range.hpp"

namespace cure::io {

/// Limits of a document's quantities by path, each in the quantity's own unit.
using Limits = std::map<std::string, Range>;

/// One JSON object of a document, with its path for messages. Remembers which keys were asked for;
/// finish() refuses the rest.
class Reader {
 public:
  Reader(Json const& object, std::string path, std::string file)
      : Reader(object, std::move(path), std::make_shared<std::string const>(std::move(file)),
               nullptr) {}

  /// Where the limits of what is read from here on are written down.
  void note_limits_in(Limits& limits) { limits_ = &limits; }
  void note_limits(Range const& range) const {
    if (limits_ != nullptr) limits_->insert_or_assign(path_, range);
  }

  /// The document was read before without complaint, and only numbers have changed since: keys that
  /// nobody asks for are not looked for again.
  void read_before() { read_before_ = true; }
  [[nodiscard]] bool was_read_before() const { return read_before_; }

  [[nodiscard]] std::string const& file() const { return *file_; }
  [[nodiscard]] std::string path(std::string_view key) const {
    return path_.empty() ? std::string(key) : path_ + "." + std::string(key);
  }

  [[nodiscard]] bool has(std::string_view key) { return find(key) != nullptr; }

  /// Whether a key is there and is that text.
  [[nodiscard]] bool is_word(std::string_view key, std::string_view word) {
    auto const* value = find(key);
    return value != nullptr && value->is_string() && value->get_ref<std::string const&>() == word;
  }

  /// The value of a key that must be there.
  Json const& at(std::string_view key, std::string_view allowed) {
    auto const* value = find(key);
    if (value == nullptr) fail(key, "missing", std::string(allowed) + near_miss(key));
    return *value;
  }

  double number(std::string_view key, Range const& range) {
    auto const* value = find(key);
    if (value == nullptr) fail(key, "missing", "a number, " + range.text() + near_miss(key));
    double x = 0.0;
    if (is_number(*value, range, x)) return x;
    return checked_number(*value, path(key), range);
  }

  double checked_number(Json const& value, std::string const& where, Range const& range) const {
    double x = 0.0;
    if (is_number(value, range, x)) return x;
    if (!value.is_number()) {
      auto const meant =
          value.is_string() ? number_meant(value.get_ref<std::string const&>()) : std::string();
      throw InputError(where, shown_value(value), "a number, " + range.text() + meant, *file_);
    }
    throw InputError(where, value.dump(), range.text(), *file_);
  }

  std::string text(std::string_view key, std::string_view allowed = "a text") {
    Json const& value = at(key, allowed);
    if (!value.is_string()) fail(key, shown_value(value), std::string(allowed));
    return value.get<std::string>();
  }

  bool flag(std::string_view key) {
    Json const& value = at(key, "true or false");
    if (!value.is_boolean()) fail(key, shown_value(value), "true or false");
    return value.get<bool>();
  }

  /// A text that must be one of a list: its place there.
  std::size_t choice(std::string_view key, Words choices) {
    if (auto const* value = find(key); value != nullptr && value->is_string()) {
      auto const& word = value->get_ref<std::string const&>();
      auto const at = std::find(choices.begin(), choices.end(), word);
      if (at != choices.end()) return static_cast<std::size_t>(at - choices.begin());
    }
    std::string list;
    for (auto const* c : choices) list += (list.empty() ? "" : ", ") + std::string(c);
    auto const word = text(key, "one of " + list);
    fail(key, "\"" + word + "\"", "one of " + list + did_you_mean(nearest(word, choices)));
  }
  /// The same, the word itself.
  std::string choice(std::string const& key, std::vector<std::string> const& choices) {
    std::vector<char const*> words;
    for (auto const& c : choices) words.push_back(c.c_str());
    return choices[choice(key, Words(words))];
  }

  Reader object(std::string_view key) { return inner(at(key, "an object {...}"), path(key)); }

  /// The object of a key that may be left out; then an empty one.
  Reader object_or_empty(std::string_view key) {
    static Json const empty = Json::object();
    return has(key) ? object(key) : Reader(empty, path(key), file_, nullptr);
  }

  /// The elements of an array of objects.
  std::vector<Reader> objects(std::string_view key) {
    Json const& value = at(key, "a list of objects");
    if (!value.is_array()) fail(key, kind_of(value), "a list of objects");
    std::vector<Reader> elements;
    for (std::size_t i = 0; i < value.size(); ++i) {
      elements.push_back(inner(value[i], path(key) + "[" + std::to_string(i) + "]"));
    }
    return elements;
  }

  std::vector<double> numbers(std::string_view key, Range const& range) {
    Json const& value = at(key, "a list of numbers");
    if (!value.is_array() || value.empty()) fail(key, kind_of(value), "a list of numbers");
    std::vector<double> list;
    for (std::size_t i = 0; i < value.size(); ++i) {
      double x = 0.0;
      list.push_back(
          is_number(value[i], range, x)
              ? x
              : checked_number(value[i], path(key) + "[" + std::to_string(i) + "]", range));
    }
    return list;
  }

  std::vector<std::string> texts(std::string_view key) {
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
  void skip(std::string_view key) { find(key); }

  /// Refuses keys that nobody asked for.
  void finish() const {
    if (read_before_ || asked_.size() == object_->size()) return;
    std::set<std::string> candidates(missing_.begin(), missing_.end());
    for (auto const& [key, value] : object_->items()) {
      if (was_asked(value)) candidates.insert(key);
    }
    for (auto const& [key, value] : object_->items()) {
      if (was_asked(value)) continue;
      std::string known;
      for (auto const& candidate : candidates) known += (known.empty() ? "" : ", ") + candidate;
      auto const near = nearest(key, candidates);
      fail(key, "unknown key", near.empty() ? "one of " + known : "did you mean \"" + near + "\"?");
    }
  }

  [[noreturn]] void fail(std::string_view key, std::string const& value,
                         std::string const& allowed) const {
    throw InputError(path(key), value, allowed, *file_);
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
  Reader(Json const& object, std::string path, std::shared_ptr<std::string const> file,
         Limits* limits)
      : object_(&object), limits_(limits), path_(std::move(path)), file_(std::move(file)) {
    if (!object.is_object()) fail_here(kind_of(object), "an object {...}");
  }

  [[nodiscard]] Reader inner(Json const& value, std::string path) const {
    Reader r(value, std::move(path), file_, limits_);
    r.read_before_ = read_before_;
    return r;
  }

  /// The value of a key, which counts as known from now on; nullptr where it is not there.
  Json const* find(std::string_view key) {
    auto const at = object_->find(key);
    if (read_before_) return at == object_->end() ? nullptr : &*at;
    if (at == object_->end()) {
      if (std::find(missing_.begin(), missing_.end(), key) == missing_.end()) {
        missing_.emplace_back(key);
      }
      return nullptr;
    }
    if (!was_asked(*at)) asked_.push_back(&*at);
    return &*at;
  }
  [[nodiscard]] bool was_asked(Json const& value) const {
    return std::find(asked_.begin(), asked_.end(), &value) != asked_.end();
  }
  static bool is_number(Json const& value, Range const& range, double& x) {
    if (!value.is_number()) return false;
    x = value.get<double>();
    return range.holds(x);
  }

  /// Names a key that may stand for a missing one, such as another unit of it.
  [[nodiscard]] std::string near_miss(std::string_view key) const {
    for (auto const& [given, value] : object_->items()) {
      if (!was_asked(value) &&
          edit_distance(given, key) <= std::min<std::size_t>(3, key.size() / 4)) {
        return "; did you mean \"" + std::string(key) + "\" by \"" + given + "\"?";
      }
    }
    return {};
  }

  [[noreturn]] void fail_here(std::string const& value, std::string const& allowed) const {
    throw InputError(path_.empty() ? "document" : path_, value, allowed, *file_);
  }

  Json const* object_;
  Limits* limits_;
  bool read_before_ = false;
  std::string path_;
  std::shared_ptr<std::string const> file_;
  std::vector<Json const*> asked_;    // of the keys that are there
  std::vector<std::string> missing_;  // asked for, and not there
};

/// Checks the "format" key. @throws InputError
inline void expect_format(Reader& reader, std::string const& format) {
  auto const given = reader.text("format", "\"" + format + "\"");
  if (given != format) reader.fail("format", "\"" + given + "\"", "\"" + format + "\"");
}

}  // namespace cure::io
