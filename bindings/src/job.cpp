#include <iterator>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "bind.hpp"
#include "cure/io/job_file.hpp"
#include "cure/io/stated_file.hpp"

namespace cure::python {

namespace {

job::Reading reading(std::string const& units, std::string where, std::vector<std::string> resins) {
  return {units == "us", std::move(where), std::move(resins)};
}

py::tuple tuple_of(job::Said const& said) {
  return py::make_tuple(io::value_json(said.value).dump(), said.doubt);
}

/// Units, and texts by key.
py::tuple read_document(std::string const& text, std::string const& file) {
  auto const found = io::read_job_document(io::parse(text, file), file);
  py::dict answers;
  for (auto const& [key, answer] : found.answers) answers[py::str(key)] = answer;
  return py::make_tuple(io::job_units[found.us ? 1 : 0], answers);
}

/// @param values JSON of the values of answers, by key
std::string plan(std::string const& values, std::string title, std::string file) {
  io::Answers answers;
  auto const given = io::parse(values, file);
  for (auto const& [key, value] : given.items()) {
    answers[job::fact_named(key).key] = {io::value_of(value, key)};
  }
  auto const p = io::plan_job(answers, std::move(title), std::move(file));
  io::OrderedJson found{{"case", p.document},  {"uncertain", io::stated_json(p.ranges)},
                        {"place", p.place},    {"taken", p.taken},
                        {"mixed_at", nullptr}, {"planned_min", p.planned}};
  if (p.mixed_at) found["mixed_at"] = *p.mixed_at;
  return found.dump();
}

/// A number of words, and whether its unit was said.
std::optional<std::pair<double, bool>> pair_of(std::optional<job::Measured> const& m) {
  if (!m) return std::nullopt;
  return std::pair(m->value, m->unit_said);
}

void bind_words(py::module_& m) {
  m.def("said_unknown", [](std::string const& text) { return job::unknown(text); });
  m.def("said_temperature", [](std::string const& text, std::string const& unit) {
    return pair_of(job::temperature(text, unit == "F"));
  });
  m.def("said_length", [](std::string const& text, std::string const& unit) {
    return pair_of(job::length(text, unit));
  });
  m.def("said_minutes", [](std::string const& text) { return job::minutes(text); });
  m.def("said_clock", [](std::string const& text) { return job::clock(text); });
  m.def("clock_words", &job::clock_words);
}

}  // namespace

void bind_job(py::module_& m) {
  bind_words(m);
  py::class_<job::Place>(m, "Place")
      .def_readonly("name", &job::Place::name)
      .def_readonly("title", &job::Place::title)
      .def("ground_C", &job::Place::ground_at, py::arg("depth_mm"));
  m.def("job_places",
        [] { return std::vector<job::Place>(std::begin(job::places), std::end(job::places)); });
  m.def("job_pipes", [] {
    std::map<std::string, std::pair<std::string, double>> found;
    for (auto const& p : job::pipes) found[p.word] = {p.material, p.wall_share};
    return found;
  });
  m.def("job_facts", [] { return io::facts_json().dump(); });
  m.def("job_read_answer",
        [](std::string const& key, std::string const& text, std::string const& units,
           std::string where, std::vector<std::string> resins) {
          return tuple_of(job::read_answer(job::fact_named(key), text,
                                           reading(units, std::move(where), std::move(resins))));
        });
  m.def("job_understood",
        [](std::string const& key, std::string const& text, std::string const& units,
           std::string where, std::vector<std::string> resins) {
          return tuple_of(job::understood(job::fact_named(key), text,
                                          reading(units, std::move(where), std::move(resins))));
        });
  m.def("read_job", &read_document);
  m.def("plan_job", &plan);
}

}  // namespace cure::python
