#pragma once
/// What a crew answered as a document, "libcure/job/1": units, and a text or a number for each
/// fact.

#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/io/job_plan.hpp"
#include "cure/io/reader.hpp"
#include "cure/job/answers.hpp"
#include "cure/job/moments.hpp"

namespace cure::io {

inline constexpr char const* job_format = "libcure/job/1";
inline constexpr char const* job_units[] = {"metric", "us"};

/// Units and answers as they were said.
struct JobDocument {
  bool us = false;
  std::vector<std::pair<std::string, std::string>> answers;  ///< key and text, in asking order
};

/// @throws InputError for another format, an unknown key, or an answer that is neither text nor
/// number
CURE_FUNCTION JobDocument read_job_document(Json const& document, std::string const& file);
#if CURE_DEFINES(READINGS)
CURE_FUNCTION JobDocument read_job_document(Json const& document, std::string const& file) {
  Reader r(document, "", file);
  expect_format(r, job_format);
  JobDocument j;
  if (r.has("units")) j.us = r.choice("units", Words(job_units)) == 1;
  for (auto const& fact : job::facts()) {
    if (!r.has(fact.key)) continue;
    Json const& value = r.at(fact.key, "a text or a number");
    if (!value.is_string() && !value.is_number()) {
      r.fail(fact.key, Reader::shown_value(value), "a text or a number");
    }
    j.answers.emplace_back(
        fact.key, value.is_string() ? value.get<std::string>() : shown(value.get<double>()));
  }
  r.finish();
  return j;
}
#endif

/// The answers of a document, understood. @throws InputError
inline Answers understood(JobDocument const& j, std::vector<std::string> const& resins,
                          std::string const& file) {
  Answers answers;
  for (auto const& [key, text] : j.answers) {
    job::Reading const reading{j.us, file.empty() ? key : file + ": " + key, resins};
    answers[key] = job::understood(job::fact_named(key), text, reading);
  }
  return answers;
}

inline Json moments_json(std::vector<job::Moment> const& moments) {
  Json rows = Json::array();
  for (auto const& m : moments) {
    rows.push_back({{"name", m.name}, {"moment", m.time}, {"likely", m.likely}});
  }
  return rows;
}

/// Value of an answer: null, a number, a word, or two numbers.
inline Json value_json(job::Value const& value) {
  struct {
    Json operator()(std::monostate) const { return nullptr; }
    Json operator()(double x) const { return x; }
    Json operator()(std::string const& word) const { return word; }
    Json operator()(std::pair<double, double> const& two) const { return {two.first, two.second}; }
  } const visitor;
  return std::visit(visitor, value);
}

/// The inverse. @throws InputError
inline job::Value value_of(Json const& value, std::string const& key) {
  if (value.is_null()) return {};
  if (value.is_number()) return value.get<double>();
  if (value.is_string()) return value.get<std::string>();
  if (value.is_array() && value.size() == 2 && value[0].is_number() && value[1].is_number()) {
    return std::pair(value[0].get<double>(), value[1].get<double>());
  }
  throw InputError(key, Reader::shown_value(value), "null, a number, a word, or two numbers");
}

/// The questions, and what may be answered.
inline Json facts_json() {
  Json list = Json::array();
  auto const range = [](Range const& r) {
    return std::isfinite(r.low) ? Json{r.low, r.high} : Json(nullptr);
  };
  for (auto const& f : job::facts()) {
    list.push_back({{"key", f.key},
                    {"question", f.question},
                    {"kind", job::kind_names[static_cast<int>(f.kind)]},
                    {"help", f.help},
                    {"usual", range(f.usual)},
                    {"limits", range(f.limits)},
                    {"choices", f.choices},
                    {"needed", f.needed}});
  }
  return list;
}

}  // namespace cure::io
