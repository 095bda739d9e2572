#include <algorithm>
#include <boost/math/special_functions/erf.hpp>
#include <boost/random/sobol.hpp>
#include <cstdint>
#include <numbers>
#include <vector>

#include "bind.hpp"

namespace cure::python {

namespace {

constexpr unsigned bits = 30;

/// Points of the Sobol' sequence in the order of its Gray code, as whole numbers below 2^30.
py::array_t<std::uint32_t> sobol_points(std::size_t dimensions, std::size_t count) {
  py::array_t<std::uint32_t> points({count, dimensions});
  auto* out = points.mutable_data();
  // Boost's engine leaves out the first point, which is zero.
  std::fill_n(out, dimensions, 0u);
  boost::random::sobol_engine<std::uint32_t, bits> engine(dimensions);
  for (std::size_t i = dimensions; i < count * dimensions; ++i) out[i] = engine();
  return points;
}

}  // namespace

void bind_sampling(py::module_& m) {
  m.attr("sobol_bits") = bits;
  m.def("sobol_points", &sobol_points);
  m.def("normal_quantile", py::vectorize([](double p) {
          return -std::numbers::sqrt2 * boost::math::erfc_inv(2.0 * p);
        }));
}

}  // namespace cure::python
