#include "bind.hpp"
#include "cure/io/fit_schema.hpp"
#include "cure/io/schemas.hpp"

namespace cure::python {

void bind_documents(py::module_& m) {
  m.def("described_documents", &io::described_documents);
  m.def("fit_law_schema", [] { return io::fit_law_schema().dump(); });
}

}  // namespace cure::python
