#include "cure/ensemble/traces.hpp"

#include <algorithm>

#include <string>
#include <utility>
#include <vector>

#include "bind.hpp"
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
  m.def("traces",
        [](process::Case const& base, std::vector<std::string> const& names, Array const& values,
           std::size_t rows, std::string const& place, Array const& times, std::size_t threads) {
          ensemble::TracePlan plan;
          plan.base = &base;
          for (auto const& name : names) plan.inputs.push_back(&ensemble::find_input(name));
          plan.values = view(values);
          plan.rows = rows;
          plan.place = place_of(place);
          plan.times = view(times);
          plan.threads = threads;
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
