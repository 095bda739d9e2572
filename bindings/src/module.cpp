#include "bind.hpp"

PYBIND11_MODULE(_core, m) {
  m.attr("__version__") = LIBCURE_VERSION;
  cure::python::bind_errors(m);
  cure::python::bind_resin(m);
  cure::python::bind_case(m);
  cure::python::bind_documents(m);
  cure::python::bind_ensemble(m);
  cure::python::bind_follow(m);
  cure::python::bind_wall(m);
  cure::python::bind_heat(m);
  cure::python::bind_fit(m);
  cure::python::bind_sampling(m);
  cure::python::bind_advise(m);
  cure::python::bind_job(m);
}
