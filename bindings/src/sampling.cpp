#include "cure/uncertain/quantile.hpp"

#include <pybind11/eigen.h>

#include "bind.hpp"
#include "cure/uncertain/foretold.hpp"
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
  m.attr("FIRST_SLACK") = uncertain::first_slack;
  py::class_<uncertain::Foreteller>(m, "Foreteller")
      .def(py::init<Eigen::MatrixXd const&, std::size_t>());
  using uncertain::PartlySimulated;
  py::class_<PartlySimulated>(m, "PartlySimulated")
      .def(py::init([](Values const& first, std::size_t most, bool relative) {
        return PartlySimulated(uncertain::copied(first), most, relative);
      }))
      .def_property_readonly("foretold", &PartlySimulated::foretold)
      .def("foretell",
           [](PartlySimulated& self, uncertain::Foreteller const& by, double low, double high) {
             return self.foretell(by.of(self.scaled_first()), low, high);
           })
      .def("missing", &PartlySimulated::missing)
      .def("put",
           [](PartlySimulated& self, std::vector<std::size_t> const& rows,
              std::vector<double> const& values) {
             for (std::size_t k = 0; k < rows.size(); ++k) self.put(rows[k], values[k]);
           })
      .def("now", [](PartlySimulated const& self, std::ptrdiff_t count) {
        return array_of(std::vector(self.now().begin(), self.now().begin() + count));
      });
}

}  // namespace cure::python
