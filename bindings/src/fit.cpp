#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "bind.hpp"
#include "cure/fit/isoconversional.hpp"
#include "cure/fit/record_run.hpp"
#include "cure/fit/residuals.hpp"
#include "cure/fit/temperature_integral.hpp"

namespace cure::python {

namespace {

using namespace py::literals;
using Record = std::tuple<Array, Array, Array, Array, double>;

py::array_t<double> array(std::vector<double> const& v) {
  return py::array_t<double>(static_cast<py::ssize_t>(v.size()), v.data());
}

template <class Value>
Value one_of(std::string const& field, std::string const& given,
             std::vector<std::pair<char const*, Value>> const& known) {
  std::string names;
  for (auto const& [name, value] : known) {
    if (given == name) return value;
    names += (names.empty() ? "" : ", ") + std::string(name);
  }
  throw InputError(field, "\"" + given + "\"", "one of " + names);
}

fit::BaselineKind baseline_kind(std::string const& name) {
  using enum fit::BaselineKind;
  return one_of<fit::BaselineKind>("baseline", name,
                                   {{"linear", linear},
                                    {"tangential-sigmoidal", tangential_sigmoidal},
                                    {"spline", spline},
                                    {"level", level},
                                    {"tangent-before", tangent_before},
                                    {"tangent-after", tangent_after}});
}

fit::Windows windows_of(std::array<double, 4> const& w) { return {w[0], w[1], w[2], w[3]}; }

/// (base, ether, initial degree of cure, diffusion, inhibitor) of a law, as Python names them.
using LawParts = std::tuple<std::string, bool, bool, std::string, bool>;

fit::Law law_of(LawParts const& parts, double T_ref, std::array<double, 3> const& Tg) {
  auto const& [base, ether, alpha0, diffusion, inhibitor] = parts;
  fit::Law law;
  law.base = fit::base_named(base);
  law.ether = ether;
  law.alpha0 = alpha0;
  law.diffusion = fit::diffusion_named(diffusion);
  law.inhibitor = inhibitor;
  law.T_ref = T_ref;
  law.glass_transition = {Tg[0], Tg[1], Tg[2]};
  return law;
}

py::list parameters(LawParts const& parts) {
  py::list list;
  for (auto const& p : law_of(parts, 300.0, {}).parameters()) {
    list.append(py::dict("name"_a = p.name, "key"_a = p.key, "symbol"_a = p.symbol,
                         "unit"_a = p.unit, "log"_a = p.log, "factor"_a = p.factor, "low"_a = p.low,
                         "high"_a = p.high, "start_low"_a = p.start_low,
                         "start_high"_a = p.start_high, "path"_a = p.path,
                         "ratio_to"_a = p.ratio_to, "recipe"_a = p.recipe));
  }
  return list;
}

py::dict quality(Array const& time, Array const& temperature, Array const& signal) {
  auto const q = fit::quality_of(view(time), view(temperature), view(signal));
  return py::dict("first_unsorted"_a = q.first_unsorted, "median_step"_a = q.median_step,
                  "largest_gap"_a = q.largest_gap, "gap_at"_a = q.gap_at, "flat_top"_a = q.flat_top,
                  "flat_top_at"_a = q.flat_top_at, "heating_rate"_a = q.heating_rate,
                  "ramp_scatter"_a = q.ramp_scatter, "noise"_a = q.noise);
}

py::dict subtract_baseline(std::string const& kind, Array const& time, Array const& heat_flow,
                           std::array<double, 4> const& windows) {
  auto const r =
      fit::subtract_baseline(baseline_kind(kind), view(time), view(heat_flow), windows_of(windows));
  auto const n = static_cast<py::ssize_t>(r.heat_flow.size());
  py::array_t<double> basis({n, py::ssize_t{4}}), functionals({py::ssize_t{4}, n});
  for (py::ssize_t i = 0; i < n; ++i) {
    auto const& row = r.baseline.basis()[static_cast<std::size_t>(i)];
    for (py::ssize_t k = 0; k < 4; ++k) {
      basis.mutable_at(i, k) = row[static_cast<std::size_t>(k)];
    }
  }
  for (std::size_t side = 0; side < 2; ++side) {
    auto const [mean, slope] = r.baseline.functional(side);
    auto const k = static_cast<py::ssize_t>(2 * side);
    for (py::ssize_t i = 0; i < n; ++i) {
      functionals.mutable_at(k, i) = mean[static_cast<std::size_t>(i)];
      functionals.mutable_at(k + 1, i) = slope[static_cast<std::size_t>(i)];
    }
  }
  return py::dict("heat_flow"_a = array(r.heat_flow), "released"_a = array(r.released),
                  "heat"_a = r.heat, "basis"_a = basis, "functionals"_a = functionals);
}

py::dict peaks(fit::PeakResult const& p) {
  return py::dict("E"_a = p.E, "half_width"_a = p.E_half_width, "A"_a = p.A,
                  "r_squared"_a = p.r_squared, "D"_a = p.D);
}

/// (E, low, high), each (alphas,).
std::tuple<py::array_t<double>, py::array_t<double>, py::array_t<double>> isoconversional(
    std::string const& method, std::vector<Record> const& records, Array const& alpha) {
  std::vector<fit::ConversionRun> runs;
  for (auto const& [time, T, a, rate, beta] : records) {
    if (T.size() != time.size() || a.size() != time.size() || rate.size() != time.size()) {
      throw InputError("runs", "arrays of unlike length", "one length a run");
    }
    runs.push_back({view(time), view(T), view(a), view(rate), beta});
  }
  using Method = fit::EnergyCurve (*)(std::span<fit::ConversionRun const>, std::span<double const>);
  auto const compute = one_of<Method>(
      "method", method,
      {{"friedman", &fit::friedman},
       {"kas", &fit::kas},
       {"vyazovkin", [](std::span<fit::ConversionRun const> r, std::span<double const> at) {
          return fit::vyazovkin(r, at);
        }}});
  fit::EnergyCurve curve;
  {
    py::gil_scoped_release release;
    curve = compute(runs, view(alpha));
  }
  return {array(curve.E), array(curve.low), array(curve.high)};
}

void check_length(fit::Problem const& p, Array const& x) {
  if (static_cast<std::size_t>(x.size()) != p.varied()) {
    throw InputError("x", std::to_string(x.size()) + " numbers",
                     std::to_string(p.varied()) + ", one a free parameter or lag");
  }
}

void add_run(fit::Problem& p, Array const& time, Array const& temperature, Array const& heat_flow,
             std::pair<std::size_t, std::size_t> const& part, std::string const& kind,
             std::array<double, 4> const& windows, double total_heat, double start,
             double tolerance, std::pair<double, double> const& weights, bool tells_heat,
             bool on_ramps, bool heated) {
  auto const t = view(time), T = view(temperature), q = view(heat_flow);
  if (T.size() != t.size() || q.size() != t.size() || !(part.first < part.second) ||
      part.second > t.size()) {
    throw InputError("run", std::to_string(t.size()) + " times",
                     "as many temperatures and signals");
  }
  auto run = fit::run_of_part(t, T, q, part.first, part.second, baseline_kind(kind),
                              windows_of(windows), total_heat, start, tolerance);
  run.rate_weight = weights.first;
  run.alpha_weight = weights.second;
  run.tells_heat = tells_heat;
  run.on_ramps = on_ramps;
  run.lags = heated;
  p.runs.push_back(std::move(run));
}

/// What may be off in a run, as orthonormal shapes (2 points, k) of its residuals; see FitRun.
void set_shapes(fit::Problem& p, std::size_t run, Array const& shapes,
                std::vector<double> const& shrink, Array const& offset) {
  if (run >= p.runs.size()) {
    throw InputError("run", std::to_string(run), "below " + std::to_string(p.runs.size()));
  }
  auto const s = view(shapes);
  if (s.size() != 2 * p.runs[run].time.size() * shrink.size()) {
    throw InputError("shapes", std::to_string(s.size()) + " numbers", "two a point and shape");
  }
  p.runs[run].shapes.assign(s.begin(), s.end());
  auto const o = view(offset);
  if (!o.empty() && o.size() != 2 * p.runs[run].time.size()) {
    throw InputError("offset", std::to_string(o.size()) + " numbers", "two a point, or none");
  }
  p.runs[run].offset.assign(o.begin(), o.end());
  p.runs[run].shrink = shrink;
}

std::pair<py::array_t<double>, py::array_t<double>> evaluate(fit::Problem const& p,
                                                             Array const& x) {
  check_length(p, x);
  auto const n = static_cast<py::ssize_t>(p.residuals());
  py::array_t<double> r(n), jacobian({n, x.size()});
  auto const r_out = view_out(r), j_out = view_out(jacobian);
  auto const at = view(x);
  {
    py::gil_scoped_release release;
    fit::evaluate(p, at, r_out, j_out);
  }
  return {std::move(r), std::move(jacobian)};
}

py::array_t<double> compressed(fit::Problem const& p, Array const& x) {
  check_length(p, x);
  auto const at = view(x);
  std::vector<double> triangle;
  {
    py::gil_scoped_release release;
    triangle = fit::evaluate_compressed(p, at);
  }
  auto out = array(triangle);
  return out.reshape({x.size() + 1, x.size() + 1});
}

/// (rate, alpha, share) of each run at these parameters.
py::list curves(fit::Problem const& p, Array const& x) {
  check_length(p, x);
  auto all = p.parameters;
  for (std::size_t k = 0; k < p.free.size(); ++k) all[p.free[k]] = view(x)[k];
  auto const scheme = fit::scheme_of(p.solved(), all.data());
  std::vector<fit::Curve<double>> found;
  fit::Lag<double> lag;
  if (p.lags) lag = {view(x)[p.free.size()], view(x)[p.free.size() + 1]};
  {
    py::gil_scoped_release release;
    found = fit::predict_all<double>(p.runs, scheme, scheme, p.control, p.lags ? &lag : nullptr);
  }
  py::list out;
  for (auto const& c : found) {
    out.append(py::make_tuple(array(c.rate), array(c.alpha), c.share));
  }
  return out;
}

py::array_t<double> compress(Array const& jacobian, Array const& r) {
  auto const n = static_cast<std::size_t>(r.size());
  auto const p = n > 0 ? static_cast<std::size_t>(jacobian.size()) / n : 0;
  if (p == 0 || n * p != static_cast<std::size_t>(jacobian.size())) {
    throw InputError("jacobian", std::to_string(jacobian.size()) + " numbers", "(residuals, p)");
  }
  fit::StreamingQr qr(p + 1);
  auto const J = view(jacobian), residual = view(r);
  for (std::size_t i = 0; i < n; ++i) {
    qr.add_row([&](std::size_t k) { return k < p ? J[i * p + k] : residual[i]; });
  }
  auto const w = static_cast<py::ssize_t>(p + 1);
  return array(qr.triangle()).reshape({w, w});
}

}  // namespace

void bind_fit(py::module_& module) {
  auto m = module.def_submodule("fit");
  m.attr("least_share") = fit::least_share;
  m.def("run_weight", &fit::run_weight);
  m.def("heat_flow_factor", &fit::heat_flow_factor);
  m.def("quality", &quality);
  m.def("subtract_baseline", &subtract_baseline);
  m.def("kissinger",
        [](Array const& b, Array const& T) { return peaks(fit::kissinger(view(b), view(T))); });
  m.def("e698", [](Array const& b, Array const& T) { return peaks(fit::e698(view(b), view(T))); });
  m.def("temperature_integral", &fit::temperature_integral);
  m.def("isoconversional", &isoconversional);
  m.def("compress", &compress);
  py::dict bases;
  for (std::size_t i = 0; i < fit::base_count; ++i) {
    bases[fit::name_of_base(i)] = fit::base_needs_initial_cure(i);
  }
  m.attr("bases") = bases;
  m.attr("diffusions") = fit::diffusion_names();
  m.def("parameters", &parameters);
  py::class_<fit::Problem>(m, "Problem")
      .def(py::init([](LawParts const& law, double T_ref, std::array<double, 3> const& Tg,
                       std::vector<double> parameters, std::vector<std::size_t> free,
                       std::string const& loss, double loss_scale, double tolerance) {
        fit::Problem p;
        p.law = law_of(law, T_ref, Tg);
        auto const names = p.law.parameters();
        if (parameters.size() != names.size()) {
          throw InputError("parameters", std::to_string(parameters.size()),
                           std::to_string(names.size()) + " for this law");
        }
        for (auto const i : free) {
          if (i >= names.size()) {
            throw InputError("free", std::to_string(i), "below " + std::to_string(names.size()));
          }
        }
        p.parameters = std::move(parameters);
        p.free = std::move(free);
        using enum fit::Loss;
        p.loss = one_of<fit::Loss>(
            "loss", loss,
            {{"linear", linear}, {"soft_l1", soft_l1}, {"huber", huber}, {"cauchy", cauchy}});
        p.loss_scale = loss_scale;
        p.control.relative = tolerance;
        p.control.absolute = 1e-3 * tolerance;
        return p;
      }))
      .def("add_run", &add_run)
      .def("set_shapes", &set_shapes)
      .def("set_lags",
           [](fit::Problem& p, std::array<double, 2> const& mean,
              std::array<double, 2> const& deviation) {
             if (!(deviation[0] > 0.0 && deviation[1] > 0.0)) {
               throw InputError("lags", "a deviation of 0", "above 0");
             }
             p.lags = fit::LagPrior{mean, deviation};
           })
      .def("add_cup",
           [](fit::Problem& p, double gel_time, double start, double ambient, double loss,
              double rise, double alpha_gel, double relative_error) {
             fit::detail::check_temperature("ambient", ambient);
             fit::detail::check_temperature("start", start);
             p.cups.push_back({gel_time, start, ambient, loss, rise, alpha_gel, relative_error});
           })
      .def_property_readonly("residuals", &fit::Problem::residuals)
      .def("evaluate", &evaluate)
      .def("compressed", &compressed)
      .def("curves", &curves);
}

}  // namespace cure::python
