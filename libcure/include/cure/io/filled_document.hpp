#pragma once
/// A document by its table, for a layer that gives it its meaning: checked, and with what was left
/// out filled in where the table says what serves.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <regex>
#include <string>
#include <utility>

#include "cure/compiled.hpp"
#include "cure/io/read_object.hpp"

namespace cure::io {

namespace detail {

/// What would be accepted, in words.
inline std::string allowed_words(Shape const& s) {
  if (stated(s.allowed)) return s.allowed;
  std::string text;
  auto const add = [&](std::string const& more) { text += (text.empty() ? "" : ", or ") + more; };
  if (s.list > 0) {
    auto const count = s.most > s.least ? std::to_string(s.least) + " to " + std::to_string(s.most)
                       : s.most > 0     ? std::to_string(s.most)
                       : s.least > 0    ? "at least " + std::to_string(s.least)
                                        : std::string();
    auto one = s;
    --one.list;
    one.or_else = nullptr;
    add("a list of " + count + (count.empty() ? "" : ", each ") + allowed_words(one));
  } else {
    if (s.number) {
      add(std::string(s.power_of_two      ? "a power of two, "
                      : s.multiple_of > 0 ? "a whole number, "
                                          : "a number, ") +
          s.range.text());
    }
    std::string words;
    for (auto const* w : s.words) words += (words.empty() ? "one of " : ", ") + std::string(w);
    if (s.text) add(words.empty() ? "a text" : words);
    if (s.flag) add("true or false");
    if (s.object != nullptr || *s.document != '\0') add("an object {...}");
    if (s.null) add("null");
  }
  if (s.or_else != nullptr) add(allowed_words(*s.or_else));
  return text;
}

/// Reads values by their shapes.
class Filler {
 public:
  explicit Filler(std::string file) : file_(std::move(file)) {}

  Json object(ObjectShape const& shape, Json const& given, std::string const& path) const {
    Reader r(given, path, file_);
    Json out = Json::object();
    if (shape.kind_count > 0) {
      auto const kind = shape.kind(shape, read_kind(shape, r));
      out[shape.kind_key] = kind.word;
      entries(*kind.object, r, given, out);
    }
    entries(shape, r, given, out);
    for (auto const& [key, value] : given.items()) {
      if (out.contains(key)) continue;
      if (shape.others != nullptr) out[key] = this->value(*shape.others, value, r.path(key));
      bool const comment = shape.comments && key.rfind("//", 0) == 0;
      if (shape.others != nullptr || shape.open || comment) r.skip(key);
      if (shape.open) out[key] = value;
    }
    r.finish();
    return out;
  }

 private:
  void entries(ObjectShape const& shape, Reader& r, Json const& given, Json& out) const {
    for (std::size_t i = 0; i < shape.size; ++i) {
      auto const& e = shape.entry(shape, i);
      bool const there = r.has(e.key);
      if (!may_be_there(e, r, there)) continue;
      if (there) {
        out[e.key] = value(e.shape, given[e.key], r.path(e.key));
      } else if (e.required) {
        auto const instead = stated(e.unless) ? std::string(", or ") + e.unless + " instead" : "";
        r.at(e.key, allowed_words(e.shape) + instead);
      } else if (e.read_anyway) {
        out[e.key] = object(*e.shape.object, Json::object(), r.path(e.key));
      } else if (e.has_default) {
        out[e.key] = number(e.shape, e.default_value);
      } else if (stated(e.default_word)) {
        out[e.key] =
            e.shape.flag ? Json(e.default_word == std::string("true")) : Json(e.default_word);
      }
    }
  }

  [[noreturn]] void refuse(Json const& v, Shape const& s, std::string const& path) const {
    throw InputError(path, Reader::shown_value(v), allowed_words(s), file_);
  }

  /// Whether a value is of a type that a shape has.
  static bool takes(Shape const& s, Json const& v) {
    if (s.list > 0) return v.is_array();
    return s.anything || (s.null && v.is_null()) || (s.number && v.is_number()) ||
           (s.text && v.is_string()) || (s.flag && v.is_boolean()) ||
           ((s.object != nullptr || stated(s.document)) && v.is_object());
  }

  static Json number(Shape const& s, double x) {
    return s.multiple_of > 0 ? Json(static_cast<long long>(x)) : Json(x);
  }

  Json value(Shape const& s, Json const& v, std::string const& path) const {
    if (s.or_else != nullptr && !takes(s, v) && takes(*s.or_else, v)) {
      return value(*s.or_else, v, path);
    }
    if (s.list > 0) return list(s, v, path);
    if (s.anything || (s.null && v.is_null())) return v;
    if (s.number && v.is_number()) {
      double const x = v.get<double>();
      bool good = s.range.holds(x);
      if (good && s.multiple_of > 0) good = x == s.multiple_of * std::floor(x / s.multiple_of);
      if (good && s.power_of_two) good = std::exp2(std::round(std::log2(x))) == x;
      if (!good) refuse(v, s, path);
      return number(s, x);
    }
    if (s.text && v.is_string()) return text(s, v, path);
    if (s.flag && v.is_boolean()) return v;
    if (v.is_object()) {
      if (s.object != nullptr) return object(*s.object, v, path);
      if (stated(s.document)) return v;
    }
    refuse(v, s, path);
  }

  Json text(Shape const& s, Json const& v, std::string const& path) const {
    auto const& word = v.get_ref<std::string const&>();
    if (!s.words.empty()) {
      if (std::find(s.words.begin(), s.words.end(), word) != s.words.end()) return v;
      throw InputError(path, Reader::shown_value(v),
                       allowed_words(s) + did_you_mean(nearest(word, s.words)), file_);
    }
    bool good = !stated(s.pattern) || word.find_first_not_of(" \t\r\n\f\v") != std::string::npos;
    // A pattern counts here where words say what is allowed; else the layer above knows more.
    if (good && stated(s.pattern) && stated(s.allowed)) {
      good = std::regex_search(word, std::regex(s.pattern));
    }
    if (!good) refuse(v, s, path);
    return v;
  }

  Json list(Shape const& s, Json const& v, std::string const& path) const {
    if (!v.is_array()) refuse(v, s, path);
    if (v.size() < s.least || (s.most > 0 && v.size() > s.most)) {
      throw InputError(path, std::to_string(v.size()) + " of them", allowed_words(s), file_);
    }
    auto one = s;
    --one.list;
    one.or_else = nullptr;
    if (one.list == 0) one.least = one.most = 0;
    Json out = Json::array();
    for (std::size_t i = 0; i < v.size(); ++i) {
      auto const where = path + "[" + std::to_string(i) + "]";
      out.push_back(value(one, v[i], where));
      if (s.unique && std::find(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(i), v[i]) !=
                          v.begin() + static_cast<std::ptrdiff_t>(i)) {
        throw InputError(where, Reader::shown_value(v[i]), "each once", file_);
      }
    }
    return out;
  }

  std::string file_;
};

}  // namespace detail

/// @param file stands for the document in messages. @throws InputError
inline Json filled_document(ObjectShape const& shape, Json const& given, std::string const& file) {
  return detail::Filler(file).object(shape, given, "");
}

}  // namespace cure::io
