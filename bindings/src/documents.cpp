#include "bind.hpp"
#include "cure/io/schemas.hpp"

namespace cure::python {

void bind_documents(py::module_& m) { m.def("described_documents", &io::described_documents); }

}  // namespace cure::python
