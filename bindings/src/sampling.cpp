#include "cure/uncertain/quantile.hpp"

#include <pybind11/eigen.h>

#include "bind.hpp"
#include "cure/uncertain/normal.hpp"
#include "cure/uncertain/sobol.hpp"

namespace cure::python {

namespace {

using Values = Eigen::Ref<Eigen::ArrayXd const, 0, Eigen::InnerStride<>>;

/// (estimate, bound, covered)
py::tuple tuple_of(uncertain::Side const& side) {
  return py::make_tuple(side.estimate, side.bound, side.covered);
}

}  // namespace

void bind_sampling(py::module_& m) {
  m.def("unit_points", &uncertain::unit_points);
  m.def("normal_quantile", py::vectorize(&uncertain::normal_quantile));
  m.def("band", [](Values const& values, bool up) {
    auto const b = uncertain::band(values, up);
    return py::make_tuple(b.p5, b.p50, b.p95);
  });
  m.attr("CONFIDENCE") = uncertain::confidence;
  m.def("upper_side", [](Values const& values, double p, double sure) {
    return tuple_of(uncertain::upper_side(values, p, sure));
  });
  m.def("lower_side", [](Values const& values, double p, double sure) {
    return tuple_of(uncertain::lower_side(values, p, sure));
  });
  m.def("weighted_quantile", [](Values const& values, Values const& weights, double p, bool up) {
    return uncertain::WeightedValues(values, weights).quantile(p, up);
  });
}

}  // namespace cure::python
