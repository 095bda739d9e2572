#pragma once
/// Tables of points in documents, such as {"time_min": [...], "value": [...]}: places that rise,
/// and a value for each.

#include <cstddef>
#include <string>
#include <vector>

#include "cure/io/reader.hpp"
#include "cure/io/shape.hpp"

namespace cure::io {

struct Points {
  std::vector<double> at, values;
};

/// Reads a table of points and closes it.
/// @param range of the values
/// @throws InputError
inline Points read_points(Reader& table, PointShape const& shape, Range const& range) {
  Points p{table.numbers(shape.place, shape.range), table.numbers("value", range)};
  table.finish();
  if (p.values.size() != p.at.size()) {
    table.fail("value", std::to_string(p.values.size()) + " values",
               std::to_string(p.at.size()) + ", one for each " + shape.each);
  }
  for (std::size_t i = 1; i < p.at.size(); ++i) {
    if (!(p.at[i] > p.at[i - 1])) {
      table.fail(shape.place + ("[" + std::to_string(i) + "]"), shown(p.at[i]),
                 std::string("above ") + shape.before + ", " + shown(p.at[i - 1]));
    }
  }
  return p;
}

}  // namespace cure::io
