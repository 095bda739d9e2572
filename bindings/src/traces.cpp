#include "cure/ensemble/traces.hpp"

#include <string>
#include <utility>
#include <vector>

#include "rows.hpp"
#include "stoppable.hpp"

namespace cure::python {

void bind_traces(py::module_& m) {
  m.def("hold_of", &ensemble::hold_of);
  m.def("liner_places", [] { return process::places_of(process::Part::liner); });
  m.def("traces", [](process::Case const& base, std::vector<std::string> const& names,
                     Array const& values, std::size_t rows, Resins resins, Indices const& resin_of,
                     std::string const& place, Array const& times, std::size_t threads) {
    ensemble::TracePlan const plan{
        rows_of(base, names, values, rows, std::move(resins), resin_of, threads), place,
        view(times)};
    auto found = stoppable(py::none(), [&] { return ensemble::traces(plan); });
    py::dict failures;
    for (std::size_t i = 0; i < rows; ++i) {
      if (!found.failure[i].empty()) failures[py::int_(i)] = found.failure[i];
    }
    return py::make_tuple(
        array_of(std::move(found.temperature), {static_cast<py::ssize_t>(rows), times.size()}),
        std::move(failures));
  });
}

}  // namespace cure::python
