// What to change in a job.
#include "cure/io/advice_file.hpp"
#include "request.hpp"

namespace cure::web {

Json advise_call(Json const& request) {
  io::Reader r(request, "", "request");
  r.skip("call");
  auto const name = text_or(r, "name", "case");
  auto const& document = r.at("case", "a case document");
  Json options = r.has("options") ? r.at("options", "an object") : Json::object();
  auto advice = io::read_advice_options(options, "options");
  advice.options.stated = stated_of(r);
  advice.options.threads = 1;
  r.finish();
  return {{"advice", io::advise_document(document, library(), models_folder, name, advice)}};
}

}  // namespace cure::web
