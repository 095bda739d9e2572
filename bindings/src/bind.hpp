#pragma once
/// The extension is conversion, the GIL and exceptions only; names, defaults and documentation live
/// in the Python package. One bind function a concept.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>
#include <pybind11/stl/filesystem.h>

#include <cstddef>
#include <memory>
#include <span>
#include <utility>
#include <vector>

namespace cure::python {

namespace py = pybind11;

using Array = py::array_t<double, py::array::c_style | py::array::forcecast>;

inline std::span<double const> view(Array const& a) {
  return {a.data(), static_cast<std::size_t>(a.size())};
}
inline std::span<double> view_out(py::array_t<double>& a) {
  return {a.mutable_data(), static_cast<std::size_t>(a.size())};
}
/// Numbers as an array that keeps them where they are. @param shape empty: a single row
inline py::array_t<double> array_of(std::vector<double> v, std::vector<py::ssize_t> shape = {}) {
  if (shape.empty()) shape.push_back(static_cast<py::ssize_t>(v.size()));
  auto kept = std::make_unique<std::vector<double>>(std::move(v));
  py::capsule const owner(kept.get(), [](void* p) { delete static_cast<std::vector<double>*>(p); });
  return py::array_t<double>(std::move(shape), kept.release()->data(), owner);
}
/// A new array of the same shape.
inline py::array_t<double> like(Array const& a) {
  return py::array_t<double>(std::vector<py::ssize_t>(a.shape(), a.shape() + a.ndim()));
}

void bind_errors(py::module_& m);
void bind_resin(py::module_& m);
void bind_case(py::module_& m);
void bind_documents(py::module_& m);
void bind_ensemble(py::module_& m);
void bind_follow(py::module_& m);
void bind_wall(py::module_& m);
void bind_heat(py::module_& m);
void bind_fit(py::module_& m);
void bind_sampling(py::module_& m);
void bind_advise(py::module_& m);
void bind_job(py::module_& m);

}  // namespace cure::python
