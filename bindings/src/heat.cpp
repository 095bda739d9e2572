#include <array>

#include "bind.hpp"
#include "cure/heat/convection.hpp"
#include "cure/heat/ground.hpp"

namespace cure::python {

void bind_heat(py::module_& m) {
  m.def("nusselt_free_cylinder", py::vectorize(&heat::nusselt_free_cylinder));
  m.def("nusselt_crossflow", py::vectorize(&heat::nusselt_crossflow));
  m.def("nusselt_inside_cylinder", py::vectorize(&heat::nusselt_inside_cylinder));
  m.def("h_open_air", py::vectorize(&heat::h_open_air));
  m.def("h_closed_bladder", py::vectorize(&heat::h_closed_bladder));
  m.def("h_radiation", py::vectorize(&heat::h_radiation));
  m.def("air", [](double T, double pressure) {
    auto const a = heat::air(T, pressure);
    return py::make_tuple(a.density, a.viscosity, a.conductivity, a.specific_heat, a.prandtl());
  });
  m.def("unfilled_months", [](std::vector<double> const& means) {
    return heat::looks_unfilled(means) ? heat::filled_months : "";
  });
  m.def("ground_temperature", py::vectorize([](double mean, double amplitude, double day_of_minimum,
                                               double diffusivity, double depth, double day) {
          return heat::make_ground_climate(mean, amplitude, day_of_minimum, diffusivity)
              .temperature(depth, day);
        }));
  m.def("ground_from_monthly", [](std::array<double, 12> const& monthly, double diffusivity) {
    auto const fit = heat::fit_monthly(monthly, diffusivity);
    auto const& c = fit.climate;
    return py::make_tuple(c.mean, c.amplitude, c.day_of_minimum, fit.worst_month);
  });
  m.def("far_radius", &heat::far_radius);
  m.def("far_radius_error", &heat::far_radius_error);
}

}  // namespace cure::python
