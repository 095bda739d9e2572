#pragma once
/// Readings of a thermocouple in the wall, as a logger wrote them, and what is said of them.

#include <Eigen/Core>
#include <cstddef>
#include <limits>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/error.hpp"
#include "cure/numerics/maps.hpp"

namespace cure::follow {

inline constexpr std::size_t most_readings = 200'000;

/// In any order; nothing is checked yet but that the two go together.
struct Readings {
  Eigen::VectorXd time;               ///< from mixing [s]; not finite where the row has none
  Eigen::VectorXd temperature;        ///< [K]; not finite where there is no number
  std::string file = {};              ///< they came from; empty when they came from code
  std::vector<std::string> left_out;  ///< rows that are no readings, in plain sentences

  Readings() = default;
  /// @throws InputError as validate
  Readings(Eigen::VectorXd t, Eigen::VectorXd T) : time(std::move(t)), temperature(std::move(T)) {
    validate();
  }

  /// @throws InputError for unlike lengths, or too many
  void validate() const {
    if (time.size() != temperature.size()) {
      throw InputError("readings",
                       std::to_string(time.size()) + " times and " +
                           std::to_string(temperature.size()) + " temperatures",
                       "one list of each, of one length");
    }
    if (size() > most_readings) {
      throw InputError("readings", std::to_string(size()) + " readings",
                       "at most " + std::to_string(most_readings));
    }
  }

  [[nodiscard]] std::size_t size() const { return static_cast<std::size_t>(time.size()); }
};

/// A plain sentence about readings or result.
struct Statement {
  std::string code, text;
  std::size_t count = 0;  ///< readings it is about; 0 when it is about no single ones
};

inline constexpr std::string_view used = "used";

/// Readings in order of time, each with what is wrong with it.
struct Screened {
  Eigen::VectorXd time;                  ///< rising [s]
  Eigen::VectorXd temperature;           ///< [K]; NaN where missing
  std::vector<std::string_view> status;  ///< `used`, or the code of a fault
  std::vector<Statement> statements;

  [[nodiscard]] bool is(Eigen::Index i, std::string_view code) const {
    return status[static_cast<std::size_t>(i)] == code;
  }
  /// Numbers of the readings of a status, in order.
  [[nodiscard]] std::vector<Eigen::Index> with(std::string_view code) const {
    std::vector<Eigen::Index> found;
    for (Eigen::Index i = 0; i < time.size(); ++i) {
      if (is(i, code)) found.push_back(i);
    }
    return found;
  }
};

}  // namespace cure::follow
