#include "cure/ensemble/traces.hpp"

#include <algorithm>

#include <string>
#include <utility>
#include <vector>

#include "rows.hpp"
#include "stoppable.hpp"

namespace cure::python {

namespace {

ensemble::Place place_of(std::string const& name) {
  using ensemble::Place;
  if (name == "inner face") return Place::inner_face;
  if (name == "middle") return Place::middle;
  if (name == "outer face") return Place::outer_face;
  if (name == "medium") return Place::medium;
  throw InputError("place", "\"" + name + "\"", "one of inner face, middle, outer face, medium");
}

}  // namespace

void bind_traces(py::module_& m) {
  m.def("hold_of", &ensemble::hold_of);
  m.def("traces", [](process::Case const& base, std::vector<std::string> const& names,
                     Array const& values, std::size_t rows, Resins resins, Indices const& resin_of,
                     std::string const& place, Array const& times, std::size_t threads) {
    ensemble::TracePlan const plan{
        rows_of(base, names, values, rows, std::move(resins), resin_of, threads), place_of(place),
        view(times)};
    auto const found = stoppable(py::none(), [&] { return ensemble::traces(plan); });
    py::array_t<double> T({static_cast<py::ssize_t>(rows), times.size()});
    std::copy(found.temperature.begin(), found.temperature.end(), T.mutable_data());
    py::dict failures;
    for (std::size_t i = 0; i < rows; ++i) {
      if (!found.failure[i].empty()) failures[py::int_(i)] = found.failure[i];
    }
    return py::make_tuple(std::move(T), std::move(failures));
  });
}

}  // namespace cure::python
