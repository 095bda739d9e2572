#include "cure/follow/follow.hpp"

#include <pybind11/eigen.h>

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "bind.hpp"
#include "cure/ensemble/outcome.hpp"
#include "cure/follow/unknowns.hpp"
#include "cure/io/follow_file.hpp"
#include "cure/io/readings_file.hpp"
#include "stoppable.hpp"

namespace cure::python {

namespace {

using process::Case;

/// @throws InputError for what is no whole number of Python's, or too large for one of ours
std::int64_t whole(char const* field, py::object const& value, char const* allowed) {
  int overflow = 0;
  long long number = 0;
  bool const is_whole = PyIndex_Check(value.ptr()) && !py::isinstance<py::bool_>(value);
  if (is_whole) number = PyLong_AsLongLongAndOverflow(py::int_(value).ptr(), &overflow);
  if (!is_whole || overflow != 0) throw InputError(field, py::str(value), allowed);
  return number;
}

follow::Options options_of(std::string at, std::optional<double> now,
                           uncertain::Stated const& stated, bool given, py::object const& samples,
                           py::object const& seed, std::size_t threads, std::string name) {
  follow::Options o;
  o.at = std::move(at);
  o.now = now;
  o.stated = stated;
  if (given) o.range_source = "given";
  if (!samples.is_none()) o.samples = whole("samples", samples, follow::sample_counts);
  o.seed = whole("seed", seed, follow::seeds);
  o.threads = threads;
  o.name = std::move(name);
  return o;
}

py::dict assumptions() {
  py::dict d;
  d["sensor_sd"] = follow::sensor_sd;
  d["model_sd"] = follow::model_sd;
  d["correlation_time"] = follow::correlation_time;
  d["time_sd"] = follow::time_sd;
  d["side"] = follow::side;
  d["assumed"] = follow::assumed;
  py::dict nuisances;
  for (auto const& n : follow::nuisances) nuisances[n.name] = n.sd;
  d["nuisances"] = nuisances;
  return d;
}

/// (time, 5 %, 50 %, 95 %) of arrays that the result keeps.
py::tuple band(py::object const& owner, follow::TemperatureBand const& b) {
  py::list columns;
  for (auto const* column : {&b.time, &b.p5, &b.p50, &b.p95}) {
    columns.append(py::cast(*column, py::return_value_policy::reference_internal, owner));
  }
  return py::tuple(columns);
}

}  // namespace

void bind_follow(py::module_& m) {
  m.def("follow_assumptions", &assumptions);
  m.def("liner_places", [] { return process::places_of(process::Part::liner); });
  m.attr("most_readings") = follow::most_readings;
  m.def("number_in", &io::number_in);
  m.def("parse_table", [](std::string const& bytes, std::string const& needed,
                          std::string const& file) {
    // The table's lines are views of the text.
    auto const text = io::utf8_of(bytes);
    auto const t = io::parse_table(text, needed, file);
    return py::make_tuple(t.heading, t.rows, t.lines, t.decimal_comma, t.unreadable, t.left_out());
  });
  m.def("parse_readings", [](std::string const& bytes, std::string const& file, std::string channel,
                             std::string mixed_at) {
    auto const r =
        io::parse_readings(io::utf8_of(bytes), file, {std::move(channel), std::move(mixed_at)});
    return py::make_tuple(r.time, r.temperature, r.left_out);
  });
  py::class_<follow::Result, std::shared_ptr<follow::Result>>(m, "FollowResult")
      .def("document_json", [](follow::Result const& r,
                               std::string const& name) { return io::follow_json(name, r).dump(); })
      .def_property_readonly(
          "time", [](follow::Result const& r) -> Eigen::VectorXd const& { return r.readings.time; })
      .def_property_readonly(
          "temperature",
          [](follow::Result const& r) -> Eigen::VectorXd const& { return r.readings.temperature; })
      .def_property_readonly("status", [](follow::Result const& r) { return r.readings.status; })
      .def_property_readonly("band_before",
                             [](py::object const& self) {
                               return band(self, self.cast<follow::Result const&>().band_before);
                             })
      .def_property_readonly("band_after", [](py::object const& self) {
        return band(self, self.cast<follow::Result const&>().band_after);
      });
  m.def("follow", [](Case const& c, Eigen::VectorXd time, Eigen::VectorXd temperature,
                     std::string file, std::vector<std::string> left_out, std::string at,
                     std::optional<double> now, uncertain::Stated const& stated, bool given,
                     py::object const& samples, py::object const& seed, std::size_t threads,
                     std::string name, py::object stop) {
    follow::Readings readings(std::move(time), std::move(temperature));
    readings.file = std::move(file);
    readings.left_out = std::move(left_out);
    auto const options =
        options_of(std::move(at), now, stated, given, samples, seed, threads, std::move(name));
    return stoppable(std::move(stop), [&] {
      return std::make_shared<follow::Result>(follow::follow(c, readings, options));
    });
  });
  // What invented logs are drawn from.
  py::class_<follow::Job>(m, "FollowJob")
      .def(py::init([](Case const& c, std::string const& at, uncertain::Stated const& stated,
                       std::size_t threads) {
             uncertain::validate(stated);
             return follow::Job(c, at, stated, threads);
           }),
           py::keep_alive<1, 2>())
      .def_property_readonly("held", &follow::Job::held)
      .def_property_readonly("unknowns", &follow::Job::unknowns)
      .def("traces",
           [](follow::Job const& job, numerics::RowMatrix const& theta,
              Eigen::VectorXd const& times) {
             return stoppable(py::none(), [&] { return job.traces(theta, times); });
           })
      .def("medium",
           [](follow::Job const& job, Eigen::VectorXd const& times) {
             return stoppable(py::none(), [&] { return job.medium(times); });
           })
      .def("release_times", [](follow::Job const& job, numerics::RowMatrix const& theta) {
        auto const outcomes = stoppable(py::none(), [&] { return job.outcomes(theta); });
        return Eigen::ArrayXd(ensemble::column(outcomes, &ensemble::Outcome::release_time));
      });
}

}  // namespace cure::python
