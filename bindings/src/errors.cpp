#include "bind.hpp"
#include "cure/error.hpp"

namespace cure::python {

namespace {

PYBIND11_CONSTINIT py::gil_safe_call_once_and_store<py::object> cure_error;

/// Raises CureError with the parts of the message as attributes.
void raise(char const* what, py::dict const& parts) {
  py::object error = cure_error.get_stored()(what);
  for (auto const& [name, value] : parts) py::setattr(error, name, value);
  PyErr_SetObject(cure_error.get_stored().ptr(), error.ptr());
}

}  // namespace

void bind_errors(py::module_& m) {
  cure_error.call_once_and_store_result(
      [&] { return py::object(py::exception<Error>(m, "CureError", PyExc_ValueError)); });
  py::register_exception_translator([](std::exception_ptr p) {
    using namespace py::literals;
    try {
      if (p) std::rethrow_exception(p);
    } catch (InputError const& e) {
      raise(e.what(), py::dict("field"_a = e.field(), "value"_a = e.value(),
                               "allowed"_a = e.allowed(), "file"_a = e.file()));
    } catch (SolverError const& e) {
      raise(e.what(), py::dict("time_reached_s"_a = e.time_reached()));
    } catch (Error const& e) {
      raise(e.what(), py::dict());
    }
  });
}

}  // namespace cure::python
