#pragma once
/// Errors of the library. Every failure is a cure::Error with one readable line in what().
/// InputError names the field, its value, what is allowed and the file; SolverError says when
/// and where a run stopped.

#include <stdexcept>
#include <string>
#include <utility>

#include "cure/arithmetic.hpp"

namespace cure {

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
  InputError(std::string field, std::string value, std::string allowed, std::string file = {})
      : Error(line(field, value, allowed, file)),
        field_(std::move(field)),
        value_(std::move(value)),
        allowed_(std::move(allowed)),
        file_(std::move(file)) {}

  [[nodiscard]] std::string const& field() const noexcept { return field_; }
  [[nodiscard]] std::string const& value() const noexcept { return value_; }
  [[nodiscard]] std::string const& allowed() const noexcept { return allowed_; }
  [[nodiscard]] std::string const& file() const noexcept { return file_; }

 private:
  static std::string line(std::string const& field, std::string const& value,
                          std::string const& allowed, std::string const& file) {
    std::string const where = file.empty() ? std::string{} : file + ": ";
    return where + field + ": " + value + "; allowed: " + allowed;
  }
  std::string field_, value_, allowed_, file_;
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
