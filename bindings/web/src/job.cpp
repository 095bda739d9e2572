// A crew's answers: to a case with its ranges, and to the answer by the clock.
#include <string>
#include <vector>

#include "answered.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/job_file.hpp"
#include "cure/io/stated_file.hpp"
#include "request.hpp"

namespace cure::web {

namespace {

std::vector<std::string> resins() {
  auto const ids = io::resin_ids(library());
  return {ids.begin(), ids.end()};
}

}  // namespace

Json questions_call(Json const&) {
  Json places = Json::array(), models = Json::array();
  for (auto const& p : job::places) places.push_back({{"name", p.name}, {"title", p.title}});
  for (auto const& id : resins()) {
    auto const file = library().find("resins", id, models_folder, "resin", "");
    models.push_back({{"id", id}, {"title", io::load(file).value("title", id)}});
  }
  return {{"facts", io::facts_json()}, {"places", places}, {"resins", models}};
}

Json understand_call(Json const& request) {
  io::Reader r(request, "", "request");
  r.skip("call");
  auto const key = r.text("key");
  auto const text = r.text("text");
  bool const us = r.choice("units", io::Words(io::job_units)) == 1;
  r.finish();
  auto const said = job::read_answer(job::fact_named(key), text, {us, key, resins()});
  return {{"value", io::value_json(said.value)}, {"doubt", said.doubt}};
}

Json job_call(Json const& request) {
  io::Reader r(request, "", "request");
  r.skip("call");
  auto const told = io::read_job_document(r.at("job", "a job document"), "");
  auto options = options_of(r);
  bool const point = r.is_word("uncertain", "none");
  bool const picture = flag(r, "picture");
  r.finish();
  auto const plan = io::plan_job(io::understood(told, resins(), ""));
  auto const document = plan.document.dump();
  auto const c = io::parse_case(document, library(), models_folder, "job");
  options.stated.reset();
  if (!point) options.stated = plan.ranges;
  job::Times const times{plan.mixed_at, plan.planned};
  auto found = answered(c, options, {"job", ""}, picture, &times);
  found["case"] = io::parse(document, "job");
  found["uncertain"] = io::stated_json(plan.ranges);
  found["place"] = plan.place;
  found["taken"] = plan.taken;
  found["mixed_at"] = plan.mixed_at ? Json(*plan.mixed_at) : Json(nullptr);
  found["planned_min"] = plan.planned;
  return found;
}

}  // namespace cure::web
