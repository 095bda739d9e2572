#pragma once
/// Numbers that stand in flat memory, as Eigen reads them; nothing is copied. A map holds as long
/// as what it looks at stays where it is.

#include <Eigen/Core>
#include <cstddef>
#include <span>

#include "cure/arithmetic.hpp"

namespace cure::numerics {

/// Rows by columns, row after row in memory.
using RowMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
/// Neighbouring columns of such rows.
using RowMap = Eigen::Map<RowMatrix const, Eigen::Unaligned, Eigen::OuterStride<>>;
using VectorMap = Eigen::Map<Eigen::VectorXd const>;

/// A count or a place as Eigen takes it.
constexpr Eigen::Index index(std::size_t i) { return static_cast<Eigen::Index>(i); }

inline VectorMap vector_map(std::span<double const> numbers) {
  return {numbers.data(), index(numbers.size())};
}

/// @param width numbers in a row, @param first the first column of those wanted, @param columns how
/// many
inline RowMap row_map(std::span<double const> numbers, std::size_t width, std::size_t first,
                      std::size_t columns) {
  auto const rows = width > 0 ? numbers.size() / width : 0;
  return {rows > 0 ? numbers.data() + first : nullptr, index(rows), index(columns),
          Eigen::OuterStride<>(index(width))};
}

}  // namespace cure::numerics
