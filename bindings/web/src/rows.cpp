// Rows of an ensemble, every number as it is: what tests compare to the bit.
#include <string>
#include <vector>

#include "cure/ensemble/simulate_many.hpp"
#include "request.hpp"

namespace cure::web {

namespace {

template <class T>
Json numbers_of(std::vector<ensemble::Outcome> const& outcomes, T ensemble::Outcome::*number) {
  Json list = Json::array();
  for (auto const& o : outcomes) list.push_back(o.*number);
  return list;
}

}  // namespace

Json rows_call(Json const& request) {
  using ensemble::Outcome;
  io::Reader r(request, "", "request");
  r.skip("call");
  auto const c = case_of(r, text_or(r, "name", "case"));
  ensemble::Plan plan;
  plan.base = &c;
  plan.threads = 1;
  std::vector<double> values;
  Json const& inputs = r.at("inputs", "an object of lists of numbers by input");
  io::Reader given(inputs, "inputs", "request");
  for (auto const& [name, list] : inputs.items()) {
    plan.inputs.push_back(&ensemble::find_input(name));
    auto const numbers = given.numbers(name, {});
    if (plan.rows == 0) plan.rows = numbers.size();
    if (numbers.size() != plan.rows) {
      given.fail(name, std::to_string(numbers.size()) + " values", "as many for each input");
    }
    values.insert(values.end(), numbers.begin(), numbers.end());
  }
  plan.values = values;
  r.finish();
  auto const outcomes = ensemble::simulate_many(plan);
  return {{"working_time_s", numbers_of(outcomes, &Outcome::working_time)},
          {"gel_time_first_s", numbers_of(outcomes, &Outcome::gel_time_first)},
          {"gel_time_last_s", numbers_of(outcomes, &Outcome::gel_time_last)},
          {"release_time_s", numbers_of(outcomes, &Outcome::release_time)},
          {"peak_temperature_K", numbers_of(outcomes, &Outcome::peak_temperature)},
          {"steps", numbers_of(outcomes, &Outcome::steps)},
          {"failures", numbers_of(outcomes, &Outcome::failure)},
          {"packed", ensemble::packable(c)}};
}

}  // namespace cure::web
