#include <pybind11/eigen.h>

#include <algorithm>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/ensemble/service_times.hpp"
#include "cure/ensemble/simulate_many.hpp"
#include "rows.hpp"
#include "stoppable.hpp"

namespace cure::python {

namespace {

using ensemble::Outcome;

ensemble::Instructions instructions_of(std::string const& name) {
  using ensemble::Instructions;
  for (auto const i :
       {Instructions::best, Instructions::baseline, Instructions::avx2, Instructions::avx512}) {
    if (name == ensemble::name(i)) return i;
  }
  throw InputError("instructions", "\"" + name + "\"", "one of best, baseline, avx2, avx512");
}

py::dict columns(std::span<Outcome const> outcomes) {
  py::dict d;
  // Copied, so that what follows reads numbers side by side and keeps no outcomes.
  auto const take = [&](char const* name, auto Outcome::*number) {
    d[name] = py::cast(ensemble::column(outcomes, number), py::return_value_policy::copy);
  };
  take("working_time_s", &Outcome::working_time);
  take("gel_time_first_s", &Outcome::gel_time_first);
  take("gel_time_last_s", &Outcome::gel_time_last);
  take("held_from_s", &Outcome::held_from);
  take("release_time_s", &Outcome::release_time);
  take("peak_temperature_K", &Outcome::peak_temperature);
  take("peak_time_s", &Outcome::peak_time);
  take("working_point", &Outcome::working_point);
  take("release_point", &Outcome::release_point);
  d["steps"] = Eigen::Array<std::int64_t, Eigen::Dynamic, 1>(
      ensemble::column(outcomes, &Outcome::steps).cast<std::int64_t>());
  Eigen::Array<std::int8_t, Eigen::Dynamic, 1> state(numerics::index(outcomes.size()));
  std::transform(outcomes.begin(), outcomes.end(), state.begin(), [](Outcome const& o) {
    return static_cast<std::int8_t>(o.failure.empty() ? static_cast<int>(o.release_state) : -1);
  });
  d["release_state"] = std::move(state);
  py::dict failures;
  for (std::size_t i = 0; i < outcomes.size(); ++i) {
    if (!outcomes[i].failure.empty()) failures[py::int_(i)] = outcomes[i].failure;
  }
  d["failures"] = std::move(failures);
  return d;
}

}  // namespace

void bind_ensemble(py::module_& m) {
  m.def("ensemble_inputs", [] {
    py::dict d;
    for (auto const& i : ensemble::inputs()) d[py::str(i.name)] = i.about;
    return d;
  });
  m.def("packed", &ensemble::packable);
  m.def("same_before_hold", &process::same_before_hold);
  m.attr("sample_tolerances") =
      py::make_tuple(ensemble::sample_tolerance.temperature, ensemble::sample_tolerance.alpha);
  m.def("instructions", [] {
    std::vector<std::string> names;
    for (auto const i : {ensemble::Instructions::baseline, ensemble::Instructions::avx2,
                         ensemble::Instructions::avx512}) {
      if (ensemble::supported(i)) names.emplace_back(ensemble::name(i));
    }
    return names;
  });
  m.def("simulate_many", [](std::vector<process::Case const*> cases,
                            std::vector<std::string> const& names, Array const& values,
                            std::size_t rows, Resins resins, Indices const& resin_of,
                            std::size_t threads, std::string const& instructions,
                            double temperature_tolerance, double alpha_tolerance, py::object stop) {
    ensemble::Plan plan{
        rows_of(*cases.at(0), names, values, rows, std::move(resins), resin_of, threads)};
    plan.others.assign(cases.begin() + 1, cases.end());
    plan.instructions = instructions_of(instructions);
    plan.tolerance.temperature = temperature_tolerance;
    plan.tolerance.alpha = alpha_tolerance;
    auto const outcomes = stoppable(std::move(stop), [&] { return ensemble::simulate_many(plan); });
    py::list of_cases;
    for (std::size_t k = 0; k < cases.size(); ++k) {
      of_cases.append(columns(std::span(outcomes).subspan(k * rows, rows)));
    }
    return of_cases;
  });
  m.def("service_times", [](process::Case const& base, std::vector<std::string> const& names,
                            Array const& values, std::size_t rows, Resins resins,
                            Indices const& resin_of, std::size_t threads,
                            std::optional<double> bladder_out, py::object stop) {
    auto const plan = rows_of(base, names, values, rows, std::move(resins), resin_of, threads);
    return array_of(
        stoppable(std::move(stop), [&] { return ensemble::service_times(plan, bladder_out); }));
  });
}

}  // namespace cure::python
