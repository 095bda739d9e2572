#include <filesystem>
#include <string>
#include <vector>

#include "bind.hpp"
#include "cure/io/model_files.hpp"
#include "cure/kinetics/batch.hpp"
#include "cure/kinetics/gelation.hpp"

namespace cure::python {

namespace {

using Resin = kinetics::Resin<double>;

/// Applies f(T, alpha) to two arrays of one shape.
template <class F>
py::array_t<double> map_two(Array const& T, Array const& alpha, F const& f) {
  if (T.size() != alpha.size()) {
    throw InputError("alpha", std::to_string(alpha.size()) + " values",
                     std::to_string(T.size()) + ", as many as temperatures");
  }
  auto out = like(T);
  auto const a = view(T), b = view(alpha);
  auto const y = view_out(out);
  py::gil_scoped_release release;
  for (std::size_t i = 0; i < y.size(); ++i) y[i] = f(a[i], b[i]);
  return out;
}

py::array_t<double> isothermal(Resin const& resin, Array const& T, Array const& times,
                               double alpha0) {
  auto const temperatures = view(T), t = view(times);
  py::array_t<double> out({T.size(), times.size()});
  auto const y = view_out(out);
  py::gil_scoped_release release;
  double const end = t.empty() ? 0.0 : t.back();
  for (std::size_t i = 0; i < temperatures.size() && end > 0.0; ++i) {
    auto const path = kinetics::cure_isothermal(resin, temperatures[i], alpha0, end);
    for (std::size_t j = 0; j < t.size(); ++j) {
      path.state_at(t[j], y.subspan(i * t.size() + j, 1));
    }
  }
  return out;
}

}  // namespace

void bind_resin(py::module_& m) {
  py::class_<Resin>(m, "Resin")
      .def_readonly("id", &Resin::id)
      .def_readonly("title", &Resin::title)
      .def_readonly("estimated", &Resin::estimated)
      .def_readonly("initial_degree_of_cure", &Resin::initial_degree_of_cure)
      .def_readonly("alpha_gel", &Resin::alpha_gel)
      .def_readonly("heat_of_reaction", &Resin::heat_of_reaction)
      .def_readonly("specific_heat", &Resin::specific_heat)
      .def_readonly("density", &Resin::density)
      .def("rate",
           [](Resin const& r, Array const& T, Array const& alpha) {
             return map_two(T, alpha, [&](double a, double b) { return r.rate.at(a, b).value; });
           })
      .def("viscosity",
           [](Resin const& r, Array const& T, Array const& alpha) {
             if (!r.viscosity) {
               throw InputError("viscosity", "missing", "a resin model with a viscosity law");
             }
             return map_two(T, alpha, [&](double a, double b) { return r.viscosity->at(a, b); });
           })
      .def("glass_transition",
           [](Resin const& r, Array const& alpha) {
             return map_two(alpha, alpha,
                            [&](double a, double) { return r.glass_transition.at(a).value; });
           })
      .def("isothermal", &isothermal);
  m.def("load_resin", [](std::filesystem::path const& path) {
    return io::read_resin(io::load(path), path.string());
  });
  m.def("flory_stockmayer_gel_point", &kinetics::flory_stockmayer_gel_point);
}

}  // namespace cure::python
