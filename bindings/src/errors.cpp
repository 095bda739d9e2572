#include <string_view>

#include "bind.hpp"
#include "cure/error.hpp"

namespace cure::python {

namespace {

PYBIND11_CONSTINIT py::gil_safe_call_once_and_store<py::object> cure_error;

/// Text for Python; what is not UTF-8, such as half a letter in a parser's message, is replaced.
py::str text(std::string_view bytes) {
  return py::reinterpret_steal<py::str>(
      PyUnicode_DecodeUTF8(bytes.data(), static_cast<py::ssize_t>(bytes.size()), "replace"));
}

/// Raises CureError with the parts of the message as attributes.
void raise(char const* what, py::dict const& parts) {
  py::object error = cure_error.get_stored()(text(what));
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
      raise(e.what(), py::dict("field"_a = text(e.field()), "value"_a = text(e.value()),
                               "allowed"_a = text(e.allowed()), "file"_a = text(e.file())));
    } catch (SolverError const& e) {
      raise(e.what(), py::dict("time_reached_s"_a = e.time_reached()));
    } catch (Error const& e) {
      raise(e.what(), py::dict());
    }
  });
}

}  // namespace cure::python
