#pragma once
/// JSON Schemas (draft 2020-12) of documents, from their tables. The reader is the authority:
/// checks that a schema cannot say, such as layers that do not fit in the pipe, are its own.

#include <cmath>
#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>

#include "cure/io/shape.hpp"

namespace cure::io {

/// Parts of a text, one after the other. (Sums of literals and texts make the first compiler warn
/// of overflows that cannot be.)
inline std::string spelled(std::initializer_list<std::string_view> parts) {
  std::string text;
  for (auto const part : parts) text += part;
  return text;
}

/// What serves for a key that was left out, in words; empty where nothing is said of it.
inline std::string default_text(Entry const& e) {
  bool const word = *e.default_word != '\0';
  if (!e.has_default && !word) return e.otherwise;
  auto const value = word ? std::string(e.default_word) : shown(e.default_value, 3);
  return *e.otherwise == '\0' ? value : spelled({value, " (", e.otherwise, ")"});
}

/// Beside which other key it may be there, in words.
inline std::string only_with(Entry const& e) {
  bool const word = *e.only_with_word != '\0';
  return spelled(
      {"Only with ", e.only_with_key, word ? " \"" : "", e.only_with_word, word ? "\"." : "."});
}

class SchemaWriter {
 public:
  using Ordered = nlohmann::ordered_json;

  /// @param title of the document, such as "libcure/case/1"
  [[nodiscard]] Ordered write(ObjectShape const& document, std::string const& title) {
    Ordered schema;
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema";
    schema["title"] = title;
    schema.update(object(document));
    if (!definitions_.empty()) schema["$defs"] = definitions_;
    return schema;
  }

 private:
  static void limits(Ordered& s, Range const& range) {
    auto const put = [&](char const* key, double x) {
      if (std::isinf(x)) return;
      bool const whole = x == std::floor(x) && std::abs(x) < 1e15;
      s[key] = whole ? Ordered(static_cast<long long>(x)) : Ordered(x);
    };
    put(range.above ? "exclusiveMinimum" : "minimum", range.low);
    put("maximum", range.high);
  }

  static std::string description(Entry const& e) {
    std::string text;
    auto const add = [&](std::string const& more) {
      if (!more.empty()) text += (text.empty() ? "" : " ") + more;
    };
    if (*e.shape.unit != '\0') add(spelled({"[", e.shape.unit, "]"}));
    add(*e.words == '\0' && e.shape.object != nullptr ? e.shape.object->words : e.words);
    if (*e.only_with_key != '\0') add(only_with(e));
    if (auto const d = default_text(e); !d.empty()) add(spelled({"Default: ", d, "."}));
    return text;
  }

  static Ordered or_null(Shape const& shape, Ordered const& s) {
    return shape.null ? Ordered{{"anyOf", {s, {{"type", "null"}}}}} : s;
  }
  Ordered value(Shape const& shape) {
    if (shape.or_else != nullptr) {
      auto first = shape;
      first.or_else = nullptr;
      return {{"anyOf", {value(first), value(*shape.or_else)}}};
    }
    if (shape.anything && shape.list == 0) return Ordered::object();
    if (*shape.document != '\0') return or_null(shape, {{"$ref", shape.document}});
    if (shape.quantity) return shape.list > 0 ? quantities(shape) : quantity(shape);
    if (shape.list > 0) return list(shape);
    bool const object_only = shape.object != nullptr && !shape.number && !shape.text;
    if (object_only && *shape.object->name != '\0') return or_null(shape, object(*shape.object));
    return object_only && !shape.null ? object(*shape.object) : plain_value(shape);
  }

  /// The parts of all the types that it may have; each counts for values of its type only.
  Ordered plain_value(Shape const& shape) {
    Ordered s, types = Ordered::array();
    if (shape.number) types.push_back(shape.multiple_of > 0 ? "integer" : "number");
    if (shape.object != nullptr || shape.points != nullptr) types.push_back("object");
    if (shape.text) types.push_back("string");
    if (shape.flag) types.push_back("boolean");
    if (shape.null) types.push_back("null");
    bool const one = types.size() == 1;
    if (one && shape.words.size() == 1) return {{"const", shape.words[0]}};
    if (one && !shape.words.empty()) return {{"enum", shape.words}};
    s["type"] = one ? types[0] : types;
    if (shape.number) limits(s, shape.range);
    if (shape.power_of_two) {
      s = {{"enum", Ordered::array()}};
      for (double n = shape.range.low; n <= shape.range.high; n *= 2.0) {
        s["enum"].push_back(static_cast<long long>(n));
      }
    }
    if (shape.multiple_of > 1) s["multipleOf"] = shape.multiple_of;
    if (*shape.pattern != '\0') s["pattern"] = shape.pattern;
    std::string words;
    for (auto const* w : shape.words) words += spelled({words.empty() ? "" : "|", w});
    if (!words.empty()) s["pattern"] = spelled({"^(", words, ")$"});
    if (shape.points != nullptr) points(s, *shape.points, shape.range);
    if (shape.object != nullptr) {
      auto o = object(*shape.object);
      o.erase("type");
      s.update(o);
    }
    return s;
  }

  static Ordered numbers(Range const& range) {
    Ordered s{{"type", "array"}, {"minItems", 1}, {"items", {{"type", "number"}}}};
    limits(s["items"], range);
    return s;
  }

  static void points(Ordered& s, PointShape const& table, Range const& values) {
    auto places = numbers(table.range);
    places["description"] = table.words;
    s["properties"] = {{table.place, places}, {"value", numbers(values)}};
    s["required"] = {table.place, "value"};
    s["additionalProperties"] = false;
  }

  Ordered list(Shape shape) {
    Ordered s{{"type", "array"}};
    if (shape.least > 0) s["minItems"] = shape.least;
    if (shape.most > 0) s["maxItems"] = shape.most;
    if (shape.unique) s["uniqueItems"] = true;
    --shape.list;
    s["items"] = value(shape);
    return s;
  }

  /// Names of the units that authors may use for a kind.
  static Ordered unit_names(units::Kind kind) {
    Ordered names = Ordered::array();
    for (auto const& u : units::table) {
      if (u.kind == kind) names.push_back(u.name);
    }
    return {{"enum", names}};
  }

  /// With the limits in each unit that authors may use.
  static Ordered quantity(Shape const& q) {
    Ordered s{{"$ref", "quantity.schema.json"}}, each = Ordered::array();
    bool alike = true;
    for (auto const& u : units::table) {
      if (u.kind != q.kind) continue;
      auto range = q.range;
      for (auto* end : {&range.low, &range.high}) {
        // Without the last digits, which round-off has changed.
        if (!std::isinf(*end)) *end = std::stod(shown((*end - u.offset) / u.factor, 12));
      }
      Ordered value = Ordered::object();
      limits(value, range);
      each.push_back({{"properties", {{"unit", {{"const", u.name}}}, {"value", value}}}});
      alike = alike && value == each[0]["properties"]["value"];
    }
    s["properties"]["unit"] = unit_names(q.kind);
    if (alike) {
      s["properties"]["value"] = each[0]["properties"]["value"];
    } else {
      s["oneOf"] = each;
    }
    if (q.noted) s["required"] = {"note"};
    return s;
  }

  static Ordered quantities(Shape const& q) {
    auto values = numbers({});
    values["minItems"] = q.least;
    values["maxItems"] = q.most;
    return {{"type", "object"},
            {"properties", {{"values", values}, {"unit", unit_names(q.kind)}}},
            {"required", {"values", "unit"}},
            {"additionalProperties", false}};
  }

  /// Once under $defs where it has a name.
  Ordered object(ObjectShape const& shape) {
    std::string const name = shape.name;
    if (name.empty()) return plain_object(shape);
    if (!definitions_.contains(name)) {
      auto definition = plain_object(shape);  // which may add others
      definitions_[name] = std::move(definition);
    }
    return {{"$ref", spelled({"#/$defs/", name})}};
  }

  Ordered plain_object(ObjectShape const& shape) {
    Ordered s{{"type", "object"}};
    if (*shape.words != '\0') s["description"] = shape.words;
    if (shape.kind_count > 0) {
      add_kinds(s, shape);
      return s;
    }
    Ordered required = Ordered::array(), rules = Ordered::array();
    s["properties"] = Ordered::object();
    add_entries(shape, s["properties"], required, rules);
    finish(s, required, rules);
    if (shape.comments) s["patternProperties"] = {{"^//", {{"type", "string"}}}};
    if (shape.others != nullptr) {
      s["additionalProperties"] = value(*shape.others);
    } else if (!shape.open) {
      s["additionalProperties"] = false;
    }
    return s;
  }

  static void finish(Ordered& s, Ordered const& required, Ordered const& rules) {
    if (!required.empty()) s["required"] = required;
    if (!rules.empty()) s["allOf"] = rules;
  }

  void add_entries(ObjectShape const& shape, Ordered& properties, Ordered& required,
                   Ordered& rules) {
    for (std::size_t i = 0; i < shape.size; ++i) {
      auto const& e = shape.entry(shape, i);
      if (*e.key == '\0') continue;
      auto v = value(e.shape);
      if (auto const text = description(e); !text.empty()) v["description"] = text;
      properties[e.key] = std::move(v);
      add_condition(e, required, rules);
    }
    for (auto const& rule : Ordered::parse(shape.rules)) rules.push_back(rule);
  }

  static Ordered is_word(char const* key, char const* word) {
    if (*word == '\0') return {{"required", {key}}};
    return {{"properties", {{key, {{"const", word}}}}}, {"required", {key}}};
  }

  static void add_condition(Entry const& e, Ordered& required, Ordered& rules) {
    Ordered const none{{"properties", {{e.key, false}}}}, there{{"required", {e.key}}};
    Ordered rule;
    if (*e.unless != '\0') {
      rule = {{"if", {{"required", {e.unless}}}}, {"then", none}};
      if (e.required) rule["else"] = there;
    } else if (*e.only_with_key != '\0') {
      rule["if"] = is_word(e.only_with_key, e.only_with_word);
      if (e.required) rule["then"] = there;
      rule["else"] = none;
    } else if (e.required) {
      required.push_back(e.key);
    }
    if (!rule.is_null()) rules.push_back(std::move(rule));
  }

  /// One schema for each word of the key. Where it may be left out, they also hold for objects that
  /// are of their kind without saying it.
  void add_kinds(Ordered& s, ObjectShape const& shape) {
    bool const stated = *shape.second_kind_with == '\0';
    Ordered words = Ordered::array(), each = Ordered::array();
    for (std::size_t i = 0; i < shape.kind_count; ++i) {
      auto const [word, table] = shape.kind(shape, i);
      words.push_back(word);
      Ordered of_kind{{"type", "object"}}, required = Ordered::array(), rules = Ordered::array();
      if (*table->words != '\0') of_kind["description"] = table->words;
      of_kind["properties"][shape.kind_key] = {{"const", word}};
      add_entries(*table, of_kind["properties"], required, rules);
      add_entries(shape, of_kind["properties"], required, rules);
      finish(of_kind, required, rules);
      of_kind["additionalProperties"] = false;
      Ordered when = is_word(shape.kind_key, word);
      if (!stated) {
        Ordered second{{"required", {shape.second_kind_with}}};
        Ordered const silent{{"not", {{"required", {shape.kind_key}}}}};
        if (i == 0) second = {{"not", second}};
        when = {{"anyOf", {when, {{"allOf", {silent, second}}}}}};
      }
      each.push_back({{"if", when}, {"then", of_kind}});
    }
    auto& key = s["properties"][shape.kind_key] = {{"enum", words}};
    if (stated) s["required"] = {shape.kind_key};
    if (!stated) key["description"] = spelled({"Default: ", shape.kind_left_out, "."});
    s["allOf"] = each;
  }

  Ordered definitions_ = Ordered::object();
};

}  // namespace cure::io
