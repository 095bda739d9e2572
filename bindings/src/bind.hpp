#pragma once
/// The extension is conversion, the GIL and exceptions only; names, defaults and documentation live
/// in the Python package. One bind function a concept.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>
#include <pybind11/stl/filesystem.h>

#include <cstddef>
#include <span>

namespace cure::python {

namespace py = pybind11;

using Array = py::array_t<double, py::array::c_style | py::array::forcecast>;

inline std::span<double const> view(Array const& a) {
  return {a.data(), static_cast<std::size_t>(a.size())};
}
inline std::span<double> view_out(py::array_t<double>& a) {
  return {a.mutable_data(), static_cast<std::size_t>(a.size())};
}
/// A new array of the same shape.
inline py::array_t<double> like(Array const& a) {
  return py::array_t<double>(std::vector<py::ssize_t>(a.shape(), a.shape() + a.ndim()));
}

void bind_errors(py::module_& m);
void bind_resin(py::module_& m);
void bind_case(py::module_& m);
void bind_ensemble(py::module_& m);
void bind_traces(py::module_& m);
void bind_wall(py::module_& m);
void bind_heat(py::module_& m);
void bind_fit(py::module_& m);
void bind_sampling(py::module_& m);

}  // namespace cure::python
