#include "cure/uncertain/quantile.hpp"

#include <pybind11/eigen.h>

#include <cstdint>
#include <vector>

#include "bind.hpp"
#include "cure/uncertain/sobol.hpp"

namespace cure::python {

namespace {

std::vector<double> list_of(Array const& a) {
  auto const v = view(a);
  return {v.begin(), v.end()};
}

/// (estimate, bound, covered)
py::tuple tuple_of(uncertain::Side const& side) {
  return py::make_tuple(side.estimate, side.bound, side.covered);
}

}  // namespace

void bind_sampling(py::module_& m) {
  m.def("unit_points", &uncertain::unit_points);
  m.def("normal_quantile", py::vectorize(&uncertain::normal_quantile));
  m.def("band", [](Array const& values, bool up) {
    auto const b = uncertain::band(list_of(values), up);
    return py::make_tuple(b.p5, b.p50, b.p95);
  });
  m.def("upper_side", [](Array const& values, double p) {
    return tuple_of(uncertain::upper_side(list_of(values), p));
  });
  m.def("lower_side", [](Array const& values, double p) {
    return tuple_of(uncertain::lower_side(list_of(values), p));
  });
}

}  // namespace cure::python
