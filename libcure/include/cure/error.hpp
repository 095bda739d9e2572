#pragma once
/// Errors of the library. Every failure is a cure::Error with one readable line in what().
/// InputError names the field, its value, what is allowed and the file; SolverError says when
/// and where a run stopped.

#include <cstddef>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>

#include "cure/arithmetic.hpp"

namespace cure {

/// Text fit for a message: control characters escaped, and cut at `most` bytes, between letters of
/// UTF-8, where it is longer.
inline std::string readable(std::string_view text, std::size_t most) {
  static constexpr char const* hex = "0123456789abcdef";
  bool const whole = text.size() <= most;
  if (!whole) {
    text = text.substr(0, most);
    while (!text.empty() && (static_cast<unsigned char>(text.back()) & 0xC0u) == 0x80u) {
      text.remove_suffix(1);
    }
    if (!text.empty() && static_cast<unsigned char>(text.back()) >= 0xC0u) text.remove_suffix(1);
  }
  std::string shown;
  for (char const c : text) {
    auto const code = static_cast<unsigned char>(c);
    if (code >= 0x20u && code != 0x7Fu) {
      shown += c;
    } else {
      shown += c == '\n' ? "\\n" : c == '\r' ? "\\r" : c == '\t' ? "\\t" : "\\x";
      if (shown.back() == 'x') (shown += hex[code >> 4u]) += hex[code & 0xFu];
    }
  }
  return whole ? shown : shown + "...";
}

/// Root of all errors that libcure raises.
class Error : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// A value that was given from outside and cannot be used.
class InputError : public Error {
 public:
  /// @param field path of the value, e.g. "liner.thickness_mm"
  /// @param value the value as given, or "missing"
  /// @param allowed what would be accepted, e.g. "0.5 to 50"
  /// @param file the file it came from; empty when it came from code
  /// What is long is cut, what no line can hold is escaped: all of them may come from a document.
  InputError(std::string const& field, std::string const& value, std::string const& allowed,
             std::string const& file = {})
      : InputError(Parts{readable(field, 300), readable(value, 300), readable(allowed, 3000),
                         readable(file, 4096)}) {}

  [[nodiscard]] std::string const& field() const noexcept { return parts_.field; }
  [[nodiscard]] std::string const& value() const noexcept { return parts_.value; }
  [[nodiscard]] std::string const& allowed() const noexcept { return parts_.allowed; }
  [[nodiscard]] std::string const& file() const noexcept { return parts_.file; }

 private:
  struct Parts {
    std::string field, value, allowed, file;
  };
  explicit InputError(Parts parts)
      : Error((parts.file.empty() ? std::string{} : parts.file + ": ") + parts.field + ": " +
              parts.value + "; allowed: " + parts.allowed),
        parts_(std::move(parts)) {}

  Parts parts_;
};

/// A simulation that could not go on.
class SolverError : public Error {
 public:
  /// @param cause what stopped the run
  /// @param time_reached [s]
  /// @param worst the component that stopped it, e.g. "liner cell 7, r = 52.4 mm, T = 411 K"
  SolverError(std::string const& cause, double time_reached, std::string const& worst = {})
      : Error(cause + " at t = " + std::to_string(time_reached) + " s" +
              (worst.empty() ? std::string{} : " (" + worst + ")")),
        time_reached_(time_reached) {}

  /// Time reached when the run stopped [s].
  [[nodiscard]] double time_reached() const noexcept { return time_reached_; }

 private:
  double time_reached_;
};

}  // namespace cure
