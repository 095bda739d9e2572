#pragma once
/// Values of a case document: numbers and tables in the document's units, turned into SI, and
/// defaults for what was left out, each written down for the output.

#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/reader.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/process/limits.hpp"
#include "cure/units.hpp"

namespace cure::io {

namespace limits = process::limits;

/// A range of process::limits in a document's unit. Twelve digits, so that 0.06 m are 60 mm.
inline Range in_unit(Range range, double unit, double zero = 0.0) {
  for (auto* end : {&range.low, &range.high}) {
    if (!std::isinf(*end)) *end = std::stod(shown((*end - zero) / unit, 12));
  }
  return range;
}

inline Range const celsius_range = in_unit(limits::temperature, 1.0, zero_celsius);
inline Range const thickness_range = in_unit(limits::thickness, 1e-3);  ///< [mm]

class ValueReader {
 public:
  /// @param defaults where the defaults that served are written down
  explicit ValueReader(std::vector<std::string>& defaults) : defaults_(defaults) {}

  void by_default(std::string const& path, std::string const& text) {
    defaults_.push_back(path + ": " + text);
  }

  /// A number in the document's unit, or the default.
  double number_or(Reader& r, std::string const& key, Range const& range, double otherwise,
                   std::string const& why = {}) {
    if (r.has(key)) return r.number(key, range);
    by_default(r.path(key), shown(otherwise, 3) + (why.empty() ? "" : " (" + why + ")"));
    return otherwise;
  }

  /// A number or a table {"time_min", "value"}; value * factor + offset is SI. @throws InputError
  static numerics::Schedule schedule(Reader& r, std::string const& key, Range const& range,
                                     double factor, double offset) {
    Json const& value = r.at(key, "a number, or a table {\"time_min\": [...], \"value\": [...]}");
    if (!value.is_object()) return r.number(key, range) * factor + offset;
    auto table = r.object(key);
    auto times = table.numbers("time_min", {.low = 0.0, .high = 1e7});
    auto values = table.numbers("value", range);
    table.finish();
    if (times.size() != values.size()) {
      table.fail("value", std::to_string(values.size()) + " values",
                 std::to_string(times.size()) + ", one for each time");
    }
    for (std::size_t i = 1; i < times.size(); ++i) {
      if (!(times[i] > times[i - 1])) {
        table.fail("time_min[" + std::to_string(i) + "]", shown(times[i]),
                   "above the time before it, " + shown(times[i - 1]));
      }
    }
    for (auto& t : times) t *= 60.0;
    for (auto& v : values) v = v * factor + offset;
    return {std::move(times), std::move(values)};
  }

  numerics::Schedule schedule_or(Reader& r, std::string const& key, Range const& range,
                                 double factor, double offset, double otherwise,
                                 std::string const& why) {
    if (r.has(key)) return schedule(r, key, range, factor, offset);
    by_default(r.path(key), shown(otherwise, 3) + " (" + why + ")");
    return otherwise * factor + offset;
  }

  numerics::Schedule celsius_or(Reader& r, std::string const& key, double kelvin,
                                std::string const& why) {
    return schedule_or(r, key, celsius_range, 1.0, zero_celsius, celsius_from_kelvin(kelvin), why);
  }

  numerics::Schedule h_or(Reader& r, double otherwise) {
    return schedule_or(r, "h_W_m2K", limits::h, 1.0, 0.0, otherwise, "common practice, no source");
  }

 private:
  std::vector<std::string>& defaults_;
};

}  // namespace cure::io
