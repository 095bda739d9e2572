#pragma once
/// Rows of an ensemble from Python's arrays.

#include <cstddef>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "bind.hpp"
#include "cure/ensemble/row_plan.hpp"

namespace cure::python {

using Indices = py::array_t<std::int64_t, py::array::c_style | py::array::forcecast>;
using Resins = std::vector<kinetics::Resin<double> const*>;

/// What plans have in common, over arrays that must outlive them.
inline ensemble::RowPlan rows_of(process::Case const& base, std::vector<std::string> const& names,
                                 Array const& values, std::size_t rows, Resins resins,
                                 Indices const& resin_of, std::size_t threads) {
  ensemble::RowPlan plan;
  plan.base = &base;
  plan.rows = rows;
  for (auto const& name : names) plan.inputs.push_back(&ensemble::find_input(name));
  plan.values = view(values);
  plan.resins = std::move(resins);
  plan.resin_of = {resin_of.data(), static_cast<std::size_t>(resin_of.size())};
  plan.threads = threads;
  return plan;
}

}  // namespace cure::python
