#include <algorithm>
#include <cmath>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "bind.hpp"
#include "cure/kinetics/resin.hpp"
#include "cure/process/section_wall.hpp"
#include "cure/process/solve_wall.hpp"
#include "cure/process/wall.hpp"
#include "stoppable.hpp"

namespace cure::python {

namespace {

using heat::Boundary;
using heat::Geometry;
using numerics::Schedule;
using Resin = kinetics::Resin<double>;

std::string shown(py::handle value) { return py::repr(value).cast<std::string>(); }

/// A dictionary whose keys are all used, or it is refused.
class OnlyKnownKeys {
 public:
  OnlyKnownKeys(py::dict const& dict, std::string name) : dict_(dict), name_(std::move(name)) {}

  [[nodiscard]] bool has(char const* key) const { return dict_.contains(key); }

  [[nodiscard]] py::object take(char const* key) {
    if (!has(key)) throw InputError(path(key), "missing", "given");
    used_.insert(key);
    return dict_[key];
  }

  template <class T>
  [[nodiscard]] T get(char const* key, char const* allowed) {
    auto const value = take(key);
    try {
      return value.cast<T>();
    } catch (py::cast_error const&) {
      throw InputError(path(key), shown(value), allowed);
    }
  }

  /// A finite number above `low`, or also at `low`.
  [[nodiscard]] double number(char const* key, double low, bool above) {
    double const x = get<double>(key, "a number");
    if (!std::isfinite(x) || x < low || (above && x == low)) {
      throw InputError(path(key), std::to_string(x),
                       (above ? "above " : "at least ") + std::to_string(low));
    }
    return x;
  }

  /// A number, or {"time": [s], "value": [...]}.
  [[nodiscard]] Schedule schedule(char const* key) {
    auto const value = take(key);
    if (py::isinstance<py::dict>(value)) {
      OnlyKnownKeys table(value.cast<py::dict>(), path(key));
      auto out = table.table();
      table.finish();
      return out;
    }
    used_.erase(key);
    double const x = get<double>(key, "a number, or a table of time and value");
    if (!std::isfinite(x)) throw InputError(path(key), shown(value), "a finite number");
    return x;
  }

  [[nodiscard]] Schedule table() {
    auto time = get<std::vector<double>>("time", "a list of times [s]");
    auto values = get<std::vector<double>>("value", "a list of numbers");
    return {std::move(time), std::move(values)};
  }

  void finish() const {
    for (auto const& [key, value] : dict_) {
      auto const name = py::str(key).cast<std::string>();
      if (!used_.contains(name)) throw InputError(path(name.c_str()), "given", "not a key here");
    }
  }

 private:
  [[nodiscard]] std::string path(char const* key) const { return name_ + "." + key; }
  py::dict dict_;
  std::string name_;
  std::set<std::string> used_;
};

Geometry geometry_of(std::string const& name) {
  if (name == "slab") return Geometry::slab;
  if (name == "cylinder") return Geometry::cylinder;
  if (name == "sphere") return Geometry::sphere;
  throw InputError("geometry", "\"" + name + "\"", "one of slab, cylinder, sphere");
}

Boundary boundary_of(py::dict const& dict, char const* name) {
  OnlyKnownKeys b(dict, name);
  auto const kind = b.get<std::string>("kind", "a text");
  Boundary out;
  if (kind == "insulated") {
    out = heat::Insulated{};
  } else if (kind == "temperature") {
    out = heat::FixedTemperature{b.table()};
  } else if (kind == "convection") {
    out = heat::Convection{b.schedule("h"), b.schedule("temperature"),
                           b.has("absorbed") ? b.schedule("absorbed") : Schedule(0.0)};
  } else if (kind == "flux") {
    out = heat::Flux{b.table()};
  } else {
    throw InputError(std::string(name) + ".kind", "\"" + kind + "\"",
                     "one of insulated, temperature, convection, flux");
  }
  b.finish();
  return out;
}

/// {"water", "start", "range", "conductivity", "specific_heat"}, as in a ground file, in SI.
heat::Freezing freezing_of(py::dict const& dict, std::string const& name) {
  OnlyKnownKeys f(dict, name);
  heat::Freezing freezing;
  freezing.water = f.number("water", 0.0, false);
  freezing.start = f.number("start", 0.0, true);
  freezing.range = f.number("range", 0.0, true);
  freezing.conductivity = f.number("conductivity", 0.0, true);
  freezing.specific_heat = f.number("specific_heat", 0.0, true);
  f.finish();
  return freezing;
}

std::vector<heat::Layer> layers_of(std::vector<py::dict> const& dicts) {
  std::vector<heat::Layer> layers;
  for (std::size_t i = 0; i < dicts.size(); ++i) {
    OnlyKnownKeys d(dicts[i], "layers[" + std::to_string(i) + "]");
    heat::Layer layer;
    layer.name = d.get<std::string>("name", "a text");
    layer.thickness = d.number("thickness", 0.0, true);
    layer.material.conductivity = d.number("conductivity", 0.0, true);
    layer.material.density = d.number("density", 0.0, true);
    layer.material.specific_heat = d.number("specific_heat", 0.0, true);
    layer.cells = d.get<std::size_t>("cells", "a whole number");
    if (d.has("growth")) layer.growth = d.number("growth", 0.0, true);
    if (d.has("freezing")) {
      auto const name = "layers[" + std::to_string(i) + "].freezing";
      layer.material.freezing = freezing_of(d.get<py::dict>("freezing", "a dictionary"), name);
      layer.material = heat::with_freezing(layer.material);
    }
    if (d.has("contact_outside")) layer.contact_outside = d.number("contact_outside", 0.0, false);
    d.finish();
    layers.push_back(std::move(layer));
  }
  return layers;
}

void check_times(std::span<double const> times) {
  for (std::size_t i = 0; i < times.size(); ++i) {
    bool const rises = i == 0 ? times[i] >= 0.0 : times[i] > times[i - 1];
    if (!std::isfinite(times[i]) || !rises) {
      throw InputError("times[" + std::to_string(i) + "]", std::to_string(times[i]) + " s",
                       "finite, from 0 on, each above the one before");
    }
  }
  if (times.empty()) throw InputError("times", "none", "at least one time");
}

py::tuple solve_wall(std::string const& geometry, double inner_radius,
                     std::vector<py::dict> const& layers, py::dict const& inner,
                     py::dict const& outer, Array const& initial, Array const& times,
                     Resin const* resin, std::optional<std::size_t> reacting, double source,
                     std::optional<double> alpha0, std::pair<double, double> tolerance) {
  heat::Conduction conduction(
      heat::make_mesh(geometry_of(geometry), inner_radius, layers_of(layers)),
      boundary_of(inner, "inner"), boundary_of(outer, "outer"));
  auto const layer_count = conduction.mesh().layers.size();
  if (reacting.has_value() != (resin != nullptr)) {
    throw InputError("reacting", reacting ? "given" : "missing", "together with a resin");
  }
  if (reacting && *reacting >= layer_count) {
    throw InputError("reacting", std::to_string(*reacting),
                     "0 to " + std::to_string(layer_count - 1));
  }
  if (!std::isfinite(source)) throw InputError("source", std::to_string(source), "finite");
  if (!(tolerance.first > 0.0 && tolerance.second > 0.0)) {
    throw InputError("tolerance",
                     std::to_string(tolerance.first) + ", " + std::to_string(tolerance.second),
                     "two numbers above 0: [K] and [-]");
  }
  auto const t = view(times);
  check_times(t);

  process::Wall wall(std::move(conduction), resin ? resin->rate : kinetics::CureRate<double>{},
                     reacting.value_or(layer_count), source, {tolerance.first, tolerance.second});
  auto const T0 = view(initial);
  if (T0.size() != wall.cells()) {
    throw InputError("initial", std::to_string(T0.size()) + " temperatures",
                     std::to_string(wall.cells()) + ", one for each cell");
  }
  std::vector<double> y(T0.begin(), T0.end());
  if (resin) {
    auto const states = resin->rate.initial(alpha0.value_or(resin->initial_degree_of_cure));
    for (double const x : states) y.insert(y.end(), wall.reacting_cells(), x);
  }
  for (double const x : y) {
    if (!std::isfinite(x)) throw InputError("initial", std::to_string(x), "finite numbers");
  }
  y.resize(wall.size(), 0.0);

  auto const n = static_cast<py::ssize_t>(t.size());
  py::array_t<double> T({n, static_cast<py::ssize_t>(wall.cells())});
  py::array_t<double> alpha({n, static_cast<py::ssize_t>(wall.reacting_cells())});
  auto const T_out = view_out(T), alpha_out = view_out(alpha);
  stoppable(py::none(), [&] {
    auto const path = process::solve_wall(wall, y, t.back()).path;
    for (std::size_t i = 0; i < t.size(); ++i) {
      path.state_at(t[i], y);
      auto const from = y.begin();
      auto const cells = static_cast<std::ptrdiff_t>(wall.cells());
      auto const m = static_cast<std::ptrdiff_t>(wall.reacting_cells());
      auto const row = static_cast<std::ptrdiff_t>(i);
      std::copy(from, from + cells, T_out.begin() + row * cells);
      std::copy(from + cells, from + cells + m, alpha_out.begin() + row * m);
    }
  });
  return py::make_tuple(std::move(T), std::move(alpha));
}

/// Heat [W/m] through one layer between fixed temperatures, from its inner surface outwards when
/// steady; inner radius and thickness of each column [m], edges of the columns [rad].
/// @throws InputError
double steady_heat_around(Array const& edge, Array const& inner_radius, Array const& thickness,
                          double conductivity, std::size_t rows, double T_inner, double T_outer) {
  auto const e = view(edge), r = view(inner_radius), d = view(thickness);
  if (r.size() != d.size() || !(conductivity > 0.0)) {
    throw InputError("columns", std::to_string(r.size()) + " radii",
                     "one for each thickness, and a conductivity above 0");
  }
  std::vector<heat::Column> columns;
  for (std::size_t j = 0; j < r.size(); ++j) {
    heat::Material const body{"body", conductivity, 1000.0, 1000.0};
    columns.push_back({r[j], {{"body", d[j], body, rows, 1.0, 0.0}}});
  }
  auto mesh = heat::make_section_mesh(heat::Section::around, {e.begin(), e.end()}, columns);
  auto const m = columns.size();
  process::SectionWall wall(
      {std::move(mesh), std::vector<Boundary>(m, heat::FixedTemperature{T_inner}),
       std::vector<Boundary>(m, heat::FixedTemperature{T_outer})},
      {}, "no resin", 0.0, {1e-6, 1e-6});
  std::vector<double> y(wall.size(), 0.0);
  std::fill(y.begin(), y.begin() + static_cast<std::ptrdiff_t>(wall.cells()), T_outer);
  double const widest = *std::max_element(d.begin(), d.end());
  auto const path = process::solve_wall(wall, y, 50.0 * widest * widest * 1e6 / conductivity).path;
  auto flow = wall.conduction().make_flow();
  auto const last = path.state(path.times().size() - 1);
  std::vector<double> const factor(wall.cells(), 1.0);
  wall.conduction().set_heats(0.0, last.first(wall.cells()), factor, flow);
  return flow.heat_in;
}

}  // namespace

void bind_wall(py::module_& m) {
  using namespace py::literals;
  m.def("steady_heat_around", &steady_heat_around);
  m.def("solve_wall", &solve_wall, "geometry"_a, "inner_radius"_a, "layers"_a, "inner"_a, "outer"_a,
        "initial"_a, "times"_a, "resin"_a = py::none(), "reacting"_a = py::none(), "source"_a = 0.0,
        "alpha0"_a = py::none(), "tolerance"_a = std::pair(5e-3, 1e-6));
}

}  // namespace cure::python
