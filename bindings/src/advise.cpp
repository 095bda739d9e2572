#include <filesystem>
#include <optional>
#include <string>
#include <utility>

#include "bind.hpp"
#include "cure/io/advice_file.hpp"
#include "cure/process/before_hold.hpp"
#include "stoppable.hpp"

namespace cure::python {

namespace {

/// Advice on a case document by options, both as JSON text; so is the answer.
std::string advise_json(std::string const& text, io::ModelLibrary const& library,
                        std::filesystem::path const& beside, std::string const& name,
                        std::string const& options, uncertain::Stated const* stated,
                        py::object stop) {
  auto request = io::read_advice_options(io::parse(options, "options"));
  request.options.stated = stated != nullptr ? std::optional(*stated) : std::nullopt;
  return stoppable(std::move(stop), [&] {
    return io::advise_document(io::parse(text, name), library, beside, name, request).dump();
  });
}

}  // namespace

void bind_advise(py::module_& m) {
  m.def("advise", &advise_json, py::arg(), py::arg(), py::arg(), py::arg(), py::arg(), py::arg(),
        py::arg("stop") = py::none());
  m.def("before_hold",
        [](process::Case const& c) { return process::before_hold(c, process::longest_wet_out); });
  m.def("keep_to", [](double minutes) { return advise::keep_to(60.0 * minutes); });
  m.def("wait_for", [](double minutes) { return advise::wait_for(60.0 * minutes); });
  m.def("short_duration", [](double minutes) { return decide::short_duration(60.0 * minutes); });
}

}  // namespace cure::python
