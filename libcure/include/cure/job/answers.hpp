#pragma once
/// Understands what a crew answers to a fact.

#include <algorithm>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cure/job/facts.hpp"
#include "cure/near_words.hpp"

namespace cure::job {

/// How an answer is to be read.
struct Reading {
  bool us = false;                  ///< numbers without a unit are in inches, feet, Fahrenheit
  std::string where;                ///< name of the field for messages
  std::vector<std::string> resins;  ///< ids of the models there are, sorted
};

namespace detail {

/// The text as JSON would quote it.
inline std::string quoted(std::string_view text) {
  std::string q = "\"";
  for (char const c : text) {
    if (c == '"' || c == '\\') q += '\\';
    q += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
  }
  return q + "\"";
}

inline std::string joined(std::vector<std::string> const& words) {
  std::string all;
  for (auto const& w : words) all += (all.empty() ? "" : ", ") + w;
  return all;
}

/// An answer to a fact while it is read.
class Answer {
 public:
  Answer(Fact const& fact, std::string_view text, Reading const& reading)
      : fact_(fact), text_(text), words_(plain(text)), reading_(reading) {}

  [[nodiscard]] Said read() const {
    if (unknown(text_)) return {};
    switch (fact_.kind) {
      case Kind::choice: return choice();
      case Kind::resin: return resin();
      case Kind::hot_water: return hot_water();
      case Kind::fill: return fill();
      case Kind::clock:
      case Kind::minutes: return time();
      case Kind::packer:
        if (std::find(fact_.choices.begin(), fact_.choices.end(), words_) != fact_.choices.end()) {
          return {words_};
        }
        break;
      case Kind::temperature:
      case Kind::length:
      case Kind::depth: break;
    }
    return measured(words_);
  }

 private:
  [[noreturn]] void refuse(std::string const& allowed) const {
    throw InputError(reading_.where, quoted(text_), allowed);
  }
  [[nodiscard]] bool thermal() const {
    return fact_.kind == Kind::temperature || fact_.kind == Kind::packer ||
           fact_.kind == Kind::fill;
  }
  [[nodiscard]] char const* unit(bool us) const {
    if (thermal()) return us ? "F" : "C";
    if (fact_.kind == Kind::depth) return us ? "ft" : "m";
    return us ? "in" : "mm";
  }
  [[nodiscard]] std::optional<Measured> number(std::string_view text, bool us) const {
    return thermal() ? temperature(text, us) : length(text, unit(us));
  }
  [[nodiscard]] char const* example() const {
    if (thermal()) return reading_.us ? "\"61 F\"" : "\"16 C\"";
    if (fact_.kind == Kind::depth) return reading_.us ? "\"4 ft\"" : "\"1.2 m\"";
    if (reading_.us) return "\"4 in\"";
    return std::string_view(fact_.key) == "bore" ? "\"100 mm\"" : "\"4 mm\"";
  }
  [[nodiscard]] double within(double value) const {
    if (fact_.limits.holds(value)) return value;
    refuse(fact_.limits.text() + (fact_.kind == Kind::minutes ? " min"
                                  : thermal()                 ? " \u00b0C"
                                                              : " mm"));
  }

  /// A temperature or a length; in doubt when it is odd and would be usual in the other unit.
  [[nodiscard]] Said measured(std::string const& text) const {
    auto const found = number(text, reading_.us);
    if (!found) {
      refuse(std::string("a number with its unit, such as ") + example() +
             (fact_.choices.empty() ? "" : ", or one of " + joined(fact_.choices)));
    }
    if (!found->unit_said && !fact_.usual.holds(found->value) &&
        fact_.usual.holds(number(text, !reading_.us)->value)) {
      auto const with = [&](bool us) {
        return "\"" + text + (thermal() ? " \u00b0" : " ") + unit(us) + "\"";
      };
      return {found->value, with(reading_.us) + " or " + with(!reading_.us)};
    }
    return {within(found->value)};
  }

  [[nodiscard]] Said choice() const {
    std::string word;  // with one space where there were several
    for (char const c : words_) {
      if (c != ' ' || word.back() != ' ') word += c;
    }
    std::vector<std::string> begin;
    for (auto const& c : fact_.choices) {
      if (c == word) return {c};
      if (c.starts_with(word)) begin.push_back(c);
    }
    if (begin.size() != 1) {
      refuse("one of " + joined(fact_.choices) + did_you_mean(nearest_id(word, fact_.choices)));
    }
    return {begin.front()};
  }

  [[nodiscard]] Said resin() const {
    auto const first = text_.find_first_not_of(' ');
    std::string const name(text_.substr(first, text_.find_last_not_of(' ') - first + 1));
    // A path, as in a case document.
    if (name.find('/') != std::string::npos || name.ends_with(".json")) return {name};
    std::vector<std::string> part;
    for (auto const& id : reading_.resins) {
      if (id == name) return {id};
      if (id.find(words_) != std::string::npos) part.push_back(id);
    }
    if (part.size() != 1) {
      auto const& near = part.empty() ? reading_.resins : part;
      refuse("one of " + joined(near) + ", or a file" + did_you_mean(nearest_id(name, near)));
    }
    return {part.front()};
  }

  [[nodiscard]] Said time() const {
    bool const of_day = fact_.kind == Kind::clock;
    auto const value = of_day ? clock(words_) : minutes(words_);
    if (!value) refuse(of_day ? "a time of day such as 9:12" : "minutes such as 14, or 1:20");
    return {of_day ? *value : within(*value)};
  }

  [[nodiscard]] Said fill() const {
    for (auto const& f : fills) {
      std::string const word = f.word;
      if (words_ != word && !words_.starts_with(word + " ")) continue;
      auto found = measured(plain(std::string_view(words_).substr(word.size())));
      found.value = std::pair(std::get<double>(found.value), f.h);
      return found;
    }
    auto found = measured(words_);
    found.value = std::pair(std::get<double>(found.value), fills[0].h);
    return found;
  }

  [[nodiscard]] Said hot_water() const {
    if (words_ == "no" || words_ == "none") return {std::string("none")};
    auto text = words_;
    std::replace(text.begin(), text.end(), ',', ' ');
    for (std::size_t cut = text.find(' '); cut != std::string::npos;
         cut = text.find(' ', cut + 1)) {
      auto rest = plain(std::string_view(text).substr(cut));
      if (rest.ends_with(" ago")) rest.resize(rest.size() - 4);
      auto const T = temperature(std::string_view(text).substr(0, cut), reading_.us);
      auto const ago = minutes(rest);
      if (T && ago && from_to(0.0, 95.0).holds(T->value) && from_to(0.0, day).holds(*ago)) {
        return {std::pair(T->value, *ago)};
      }
    }
    refuse("a temperature of 0 to 95 \u00b0C and minutes ago, such as \"45 C 10 min\", or none");
  }

  Fact const& fact_;
  std::string_view text_;
  std::string words_;  ///< in small letters, without spaces around them
  Reading const& reading_;
};

}  // namespace detail

/// Empty, "?" or "don't know" is not known. @throws InputError for what is no answer, or cannot be
inline Said read_answer(Fact const& fact, std::string_view text, Reading const& reading) {
  return detail::Answer(fact, text, reading).read();
}

/// An answer without a doubt. @throws InputError as read_answer, and for a doubt
inline Said understood(Fact const& fact, std::string_view text, Reading const& reading) {
  auto found = read_answer(fact, text, reading);
  if (!found.doubt.empty()) {
    throw InputError(reading.where, detail::quoted(text),
                     found.doubt + ": without a unit it is an unusual number");
  }
  return found;
}

}  // namespace cure::job
