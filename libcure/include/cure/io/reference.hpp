#pragma once
/// The reference page of documents for users, in Markdown, from their tables: for each object its
/// keys, what they may hold, what serves when they are left out, and what they mean.

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/io/schema.hpp"

namespace cure::io {

class ReferenceWriter {
 public:
  /// One document. @param title its format
  [[nodiscard]] std::string write(ObjectShape const& document, std::string const& title) {
    page_.clear();
    done_.clear();
    object(document, title, "##");
    return std::move(page_);
  }

 private:
  static void join(std::string& text, std::string const& more, char const* by = ", or ") {
    if (!more.empty()) text += spelled({text.empty() ? "" : by, more});
  }

  /// What a value may be.
  static std::string value(Shape const& s) {
    if (s.quantity) {
      std::string units;
      for (auto const& u : units::table) {
        if (u.kind == s.kind) join(units, std::string(u.name), ", ");
      }
      auto const range = s.range.text();
      bool const any = range == "a finite number";
      return spelled({s.list > 0 ? "values in " : "quantity in ", units, any ? "" : "; ",
                      any ? "" : range, any ? "" : " in SI"});
    }
    std::string text, words;
    if (s.number) {
      text = spelled({s.power_of_two       ? "a power of two, "
                      : s.multiple_of == 0 ? ""
                      : s.multiple_of == 1 ? "a whole number, "
                                           : "an even whole number, ",
                      s.range.text()});
      join(text, s.unit, " ");
    }
    if (s.points != nullptr) {
      join(text, spelled({"a table {", s.points->place, ", value}"}));
      if (!s.number) text += spelled({" of ", s.range.text(), " ", s.unit});
    }
    if (s.anything) text = "any value";
    if (*s.document != '\0') text = spelled({"a document, ", s.document});
    for (auto const* w : s.words) join(words, spelled({"`", w, "`"}), ", ");
    if (s.text) join(text, words.empty() ? "text" : words);
    if (s.flag) join(text, "true or false");
    if (s.object != nullptr && *s.document == '\0') join(text, s.list > 0 ? "objects" : "object");
    if (s.null) join(text, "null");
    text = spelled({s.list > 0 ? "list of " : "", text});
    if (s.or_else != nullptr) join(text, value(*s.or_else));
    return text;
  }

  static std::string meaning(Entry const& e) {
    std::string text = e.words;
    if (*e.only_with_key != '\0') join(text, only_with(e), " ");
    if (*e.unless != '\0') join(text, spelled({"Not together with ", e.unless, "."}), " ");
    return text;
  }

  void row(Entry const& e) {
    auto left_out = e.required ? "required" : default_text(e);
    if (e.required && *e.unless != '\0') left_out += spelled({" without ", e.unless});
    if (left_out.empty()) left_out = "-";
    page_ +=
        spelled({"| `", e.key, "` | ", value(e.shape), " | ", left_out, " | ", meaning(e), " |\n"});
  }

  void rows(ObjectShape const& shape) {
    for (std::size_t i = 0; i < shape.size; ++i) {
      auto const& e = shape.entry(shape, i);
      if (*e.key != '\0') row(e);
    }
  }

  /// Sections of the objects that the values of an object are.
  void inner(ObjectShape const& shape, std::string const& path) {
    for (std::size_t i = 0; i < shape.size; ++i) {
      auto const& e = shape.entry(shape, i);
      if (e.shape.object == nullptr || *e.shape.document != '\0') continue;
      object(*e.shape.object, spelled({path, e.key, e.shape.list > 0 ? "[]" : ""}), "###");
    }
    if (shape.others == nullptr) return;
    page_ += spelled({"Keys are names; each has ", value(*shape.others), ".\n\n"});
    if (shape.others->object != nullptr) {
      object(*shape.others->object, spelled({path, "NAME"}), "###");
    }
  }

  void object(ObjectShape const& shape, std::string const& path, char const* heading) {
    bool const top = *(heading + 2) == '\0';
    auto const below = top ? std::string() : spelled({path, "."});
    auto const mark = top ? "" : "`";
    page_ += spelled({heading, " ", mark, path, mark, "\n\n"});
    if (auto const* first = known(shape)) {
      page_ += spelled({"As `", *first, "`.\n\n"});
      return;
    }
    if (*shape.name != '\0') done_.emplace_back(&shape, path);
    if (*shape.words != '\0') page_ += spelled({shape.words, "\n\n"});
    if (shape.kind_count == 0) {
      if (shape.size > 0) {
        page_ += head_;
        rows(shape);
        page_ += "\n";
      }
      return inner(shape, below);
    }
    for (std::size_t i = 0; i < shape.kind_count; ++i) {
      auto const [word, table] = shape.kind(shape, i);
      page_ += spelled({"`", shape.kind_key, "`: `", word, "`. ", table->words, "\n\n"});
      if (table->size + shape.size == 0) continue;
      page_ += head_;
      rows(*table);
      rows(shape);
      page_ += "\n";
    }
    if (*shape.kind_left_out != '\0') {
      page_ +=
          spelled({"Where `", shape.kind_key, "` is left out: ", shape.kind_left_out, ".\n\n"});
    }
    for (std::size_t i = 0; i < shape.kind_count; ++i) inner(*shape.kind(shape, i).object, below);
    inner(shape, below);
  }

  [[nodiscard]] std::string const* known(ObjectShape const& shape) const {
    for (auto const& [done, path] : done_) {
      if (std::string_view(done->name) == shape.name) return &path;
    }
    return nullptr;
  }

  static constexpr char const* head_ =
      "| key | value | when left out | meaning |\n| --- | --- | --- | --- |\n";
  std::string page_;
  std::vector<std::pair<ObjectShape const*, std::string>> done_;
};

}  // namespace cure::io
