#include <pybind11/eigen.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "bind.hpp"
#include "cure/io/model_files.hpp"
#include "cure/io/resin_draws.hpp"
#include "cure/kinetics/batch.hpp"
#include "cure/kinetics/gelation.hpp"
#include "cure/process/caution_model.hpp"
#include "stoppable.hpp"

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

/// The last of the times to report, 0 when there is none [s].
double latest(std::span<double const> times) {
  return times.empty() ? 0.0 : *std::max_element(times.begin(), times.end());
}

/// The same. @throws InputError when it is not above 0
double last_of(std::span<double const> times) {
  double const end = latest(times);
  if (!(end > 0.0)) throw InputError("times", "none above 0 s", "at least one above 0 s");
  return end;
}

/// State number k at each of the times, into a row.
void report(numerics::Trajectory const& path, std::span<double const> times, std::size_t k,
            std::span<double> row) {
  std::vector<double> state(path.width());
  for (std::size_t j = 0; j < times.size(); ++j) {
    path.state_at(times[j], state);
    row[j] = state[k];
  }
}

/// alpha (temperatures, times) at constant temperatures [K].
py::array_t<double> isothermal(Resin const& resin, Array const& T, Array const& times,
                               double alpha0) {
  auto const temperatures = view(T), t = view(times);
  py::array_t<double> out({T.size(), times.size()});
  auto const y = view_out(out);
  stoppable(py::none(), [&] {
    std::fill(y.begin(), y.end(), alpha0);
    double const end = latest(t);
    for (std::size_t i = 0; i < temperatures.size() && end > 0.0; ++i) {
      report(kinetics::cure_isothermal(resin, temperatures[i], resin.rate.initial(alpha0), end), t,
             0, y.subspan(i * t.size(), t.size()));
    }
  });
  return out;
}

/// alpha (histories, times) along temperature histories [K]: `temperature` is (histories, points)
/// over `points` [s].
py::array_t<double> along(Resin const& resin, Array const& points, Array const& temperature,
                          Array const& times, double alpha0) {
  auto const p = view(points), T = view(temperature), t = view(times);
  auto const histories = p.empty() ? 0 : T.size() / p.size();
  if (p.empty() || histories * p.size() != T.size()) {
    throw InputError("temperature", std::to_string(T.size()) + " values",
                     "one for each time of each history");
  }
  py::array_t<double> out({static_cast<py::ssize_t>(histories), times.size()});
  auto const y = view_out(out);
  stoppable(py::none(), [&] {
    double const end = last_of(t);
    for (std::size_t i = 0; i < histories; ++i) {
      auto const row = T.subspan(i * p.size(), p.size());
      numerics::Schedule const history({p.begin(), p.end()}, {row.begin(), row.end()});
      report(kinetics::cure_along(resin, history, resin.rate.initial(alpha0), end), t, 0,
             y.subspan(i * t.size(), t.size()));
    }
  });
  return out;
}

/// (alpha, d(alpha)/dt [1/s]), each (rates, temperatures), at constant heating rates [K/s] from
/// `temperature[0]` on.
std::pair<py::array_t<double>, py::array_t<double>> ramp(Resin const& resin, Array const& rates,
                                                         Array const& temperature, double alpha0) {
  auto const beta = view(rates), T = view(temperature);
  py::array_t<double> alpha({rates.size(), temperature.size()});
  py::array_t<double> slope({rates.size(), temperature.size()});
  auto const alpha_out = view_out(alpha), slope_out = view_out(slope);
  stoppable(py::none(), [&] {
    if (T.size() < 2 || !(T.back() > T.front())) {
      throw InputError("temperature", std::to_string(T.size()) + " values", "two or more, rising");
    }
    std::vector<double> state(resin.rate.states()), f(state.size());
    for (std::size_t i = 0; i < beta.size(); ++i) {
      if (!(beta[i] > 0.0)) throw InputError("rate", std::to_string(beta[i]) + " K/s", "above 0");
      double const end = (T.back() - T.front()) / beta[i];
      auto const path = kinetics::cure_along(resin, {{0.0, end}, {T.front(), T.back()}},
                                             resin.rate.initial(alpha0), end);
      for (std::size_t j = 0; j < T.size(); ++j) {
        path.state_at((T[j] - T.front()) / beta[i], state);
        resin.rate.slopes(T[j], state.data(), f.data());
        alpha_out[i * T.size() + j] = state[0];
        slope_out[i * T.size() + j] = f[0];
      }
    }
  });
  return {std::move(alpha), std::move(slope)};
}

/// (T, alpha), each (masses, times), of masses that start at T0 [K]; area 0 is adiabatic.
std::pair<py::array_t<double>, py::array_t<double>> lumped(Resin const& resin, Array const& T0,
                                                           double mass, double area, double h,
                                                           double ambient, Array const& times,
                                                           double alpha0) {
  auto const start = view(T0), t = view(times);
  py::array_t<double> T({T0.size(), times.size()}), alpha({T0.size(), times.size()});
  auto const T_out = view_out(T), alpha_out = view_out(alpha);
  stoppable(py::none(), [&] {
    double const end = last_of(t);
    for (std::size_t i = 0; i < start.size(); ++i) {
      auto const path = kinetics::cure_lumped(resin, {mass, area, h, ambient}, start[i],
                                              resin.rate.initial(alpha0), end);
      report(path, t, 0, T_out.subspan(i * t.size(), t.size()));
      report(path, t, 1, alpha_out.subspan(i * t.size(), t.size()));
    }
  });
  return {std::move(T), std::move(alpha)};
}

/// Resins that differ from a document in some values: row i of `values` gives those at `paths`,
/// each in its quantity's own unit. The covariance is checked once, with the document as it stands.
std::vector<Resin> resin_samples(std::string const& text, std::string const& name,
                                 std::vector<std::string> const& paths, Array const& values) {
  auto document = io::parse(text, name);
  auto const before = io::read_resin(document, name);
  document.erase("covariance");
  if (values.ndim() != 2 || static_cast<std::size_t>(values.shape(1)) != paths.size()) {
    throw InputError("values", std::to_string(values.size()) + " numbers",
                     "a column for each path");
  }
  Eigen::Map<numerics::RowMatrix const> const rows(values.data(), values.shape(0), values.shape(1));
  py::gil_scoped_release release;
  return io::resins_with(std::move(document), name, before, paths, rows);
}

/// Limits (low, high) of the numbers of a resin document by path, each in its own unit.
std::map<std::string, std::pair<double, double>> resin_limits(std::string const& text,
                                                              std::string const& name) {
  io::Limits limits;
  io::read_resin(io::parse(text, name), name, limits);
  std::map<std::string, std::pair<double, double>> out;
  for (auto const& [path, range] : limits) out[path] = {range.low, range.high};
  return out;
}

/// What normal changes (n,) of a constant's scale make of its value.
py::array_t<double> drawn(std::string const& scale, std::pair<double, double> const& limits,
                          double value, Array const& change) {
  auto out = like(change);
  auto const x = view(change);
  auto const y = view_out(out);
  Range const range{.low = limits.first, .high = limits.second};
  for (std::size_t i = 0; i < y.size(); ++i) y[i] = io::drawn(scale, range, value, x[i]);
  return out;
}

/// What draws z (n, constants) make of the uncertain constants of a document, by path.
std::map<std::string, Eigen::VectorXd> drawn_constants(std::string const& text,
                                                       std::string const& name,
                                                       numerics::RowMatrix const& z) {
  auto const moving = io::detail::moving_resin(io::parse(text, name), name);
  auto const dimensions = numerics::index(moving.dimensions());
  if (z.cols() != dimensions) {
    throw InputError("z", std::to_string(z.cols()) + " columns", std::to_string(dimensions), name);
  }
  Eigen::MatrixXd x(z.rows(), z.cols());
  for (Eigen::Index i = 0; i < z.rows(); ++i) {
    x.row(i) = moving.values(z.row(i).transpose()).transpose();
  }
  std::map<std::string, Eigen::VectorXd> values;
  for (Eigen::Index j = 0; j < dimensions; ++j) {
    values[moving.parameters[static_cast<std::size_t>(j)]] = x.col(j);
  }
  return values;
}

/// What makes a resin from files, texts or others.
void bind_making(py::module_& m) {
  // Components of a blend are looked up beside it.
  m.def("load_resin", [](std::filesystem::path const& path, std::filesystem::path const& only) {
    return io::load_resin(path, {{path.parent_path().parent_path()}, only});
  });
  m.def("read_resin", [](std::string const& text, std::string const& name) {
    return io::read_resin(io::parse(text, name), name);
  });
  m.def("blended",
        [](std::string id, std::string title, std::vector<std::pair<double, Resin>> const& shares) {
          std::vector<kinetics::BlendPart> parts;
          for (auto const& [share, resin] : shares) parts.push_back({share, resin});
          auto resin = kinetics::blend(parts);
          resin.id = std::move(id);
          resin.title = std::move(title);
          return resin;
        });
  m.def("resin_limits", &resin_limits);
  m.def("drawn", &drawn);
  m.def("drawn_constants", &drawn_constants);
  m.def("resin_samples", &resin_samples);
}

}  // namespace

void bind_resin(py::module_& m) {
  // What Python made it from is kept beside it, for pickles.
  py::class_<Resin>(m, "Resin", py::dynamic_attr())
      .def("__reduce__",
           [](py::object const& self) {
             if (!py::hasattr(self, "_made")) {
               throw py::type_error("a resin of one draw cannot be pickled; pickle what drew it");
             }
             return self.attr("_made");
           })
      .def_readonly("id", &Resin::id)
      .def_readonly("title", &Resin::title)
      .def_readonly("estimated", &Resin::estimated)
      .def_readonly("transcribed", &Resin::transcribed)
      .def_readonly("initial_degree_of_cure", &Resin::initial_degree_of_cure)
      .def_readonly("alpha_gel", &Resin::alpha_gel)
      .def_readonly("heat_of_reaction", &Resin::heat_of_reaction)
      .def_property_readonly("specific_heat",
                             [](Resin const& r) { return r.specific_heat.reference; })
      .def_property_readonly("density", [](Resin const& r) { return r.density.reference; })
      .def_property_readonly("temperature_min",
                             [](Resin const& r) { return r.validity.temperature_min; })
      .def_property_readonly("temperature_max",
                             [](Resin const& r) { return r.validity.temperature_max; })
      .def_property_readonly("Tg_margin_max",
                             [](Resin const& r) { return r.validity.Tg_margin_max; })
      .def_property_readonly("alpha_max", [](Resin const& r) { return r.validity.alpha_max; })
      .def_property_readonly("shrinkage",
                             [](Resin const& r) { return r.shrinkage ? r.shrinkage->total : 0.0; })
      .def_property_readonly("not_measured",
                             [](Resin const& r) { return process::not_measured(r.evidence); })
      .def_property_readonly("verified", [](Resin const& r) { return r.evidence.verified; })
      .def("rate",
           [](Resin const& r, Array const& T, Array const& alpha) {
             return map_two(T, alpha, [&](double a, double b) {
               auto x = r.rate.initial(b);
               std::vector<double> f(x.size());
               r.rate.slopes(a, x.data(), f.data());
               return f[0];
             });
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
      .def("modulus",
           [](Resin const& r, Array const& T, Array const& alpha) {
             if (!r.modulus) throw InputError("modulus", "missing", "a resin model with a modulus");
             return map_two(T, alpha, [&](double a, double b) { return r.modulus->at(a, b); });
           })
      .def("isothermal", &isothermal)
      .def("along", &along)
      .def("ramp", &ramp)
      .def("lumped", &lumped);
  bind_making(m);
  py::class_<kinetics::UncertainResin>(m, "UncertainResin")
      .def(py::init([](io::ResinParts const& parts) { return io::uncertain_resin(parts, {}); }))
      .def_readonly("dimensions", &kinetics::UncertainResin::dimensions)
      .def_readonly("whole", &kinetics::UncertainResin::whole)
      .def("resins", [](kinetics::UncertainResin const& u, numerics::RowMatrix const& z) {
        std::span const numbers(z.data(), static_cast<std::size_t>(z.size()));
        return stoppable(py::none(),
                         [&] { return u.draws(numbers, static_cast<std::size_t>(z.rows())); });
      });
  m.def("flory_stockmayer_gel_point", &kinetics::flory_stockmayer_gel_point);
}

}  // namespace cure::python
