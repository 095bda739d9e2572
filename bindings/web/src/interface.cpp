// The one C function of the module: JSON text in, JSON text out.
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <string>

#include "calls.hpp"
#include "cure/io/reader.hpp"

namespace cure::web {

namespace {

/// Model files that came with the page, or were given to it. @throws InputError
Json files_call(Json const& request) {
  io::Reader r(request, "", "request");
  r.skip("call");
  Json const& files = r.at("files", "an object of texts by path");
  for (auto const& [name, text] : files.items()) {
    auto const path = std::filesystem::path(models_folder) / name;
    if (name.find("..") != std::string::npos || name.starts_with('/') || !text.is_string()) {
      throw InputError("files", name, "a path below the models' folder, and its text");
    }
    std::filesystem::create_directories(path.parent_path());
    std::ofstream(path, std::ios::binary) << text.get_ref<std::string const&>();
  }
  r.finish();
  return {{"files", files.size()}};
}

Json dispatch(std::string const& text) {
  static std::map<std::string, Json (*)(Json const&)> const calls{
      {"files", files_call},         {"answer", answer_call},        {"rows", rows_call},
      {"advise", advise_call},       {"follow", follow_call},        {"job", job_call},
      {"questions", questions_call}, {"understand", understand_call}};
  auto const request = io::parse(text, "request");
  io::Reader r(request, "", "request");
  auto const name = r.text("call");
  auto const found = calls.find(name);
  if (found == calls.end()) {
    std::string known;
    for (auto const& [key, call] : calls) known += (known.empty() ? "" : ", ") + key;
    r.fail("call", "\"" + name + "\"", "one of " + known);
  }
  return found->second(request);
}

Json error_json(std::string const& what) { return {{"error", {{"message", what}}}}; }

std::string answer_to(std::string const& text) {
  Json answer;
  try {
    answer = dispatch(text);
  } catch (InputError const& e) {
    answer = error_json(e.what());
    answer["error"].update(
        {{"field", e.field()}, {"value", e.value()}, {"allowed", e.allowed()}, {"file", e.file()}});
  } catch (std::exception const& e) {
    answer = error_json(e.what());
  }
  return answer.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace

}  // namespace cure::web

extern "C" {

/// @param request JSON text with the key "call"
/// @return JSON text, which lives until the next call
char const* cure_call(char const* request) {
  static std::string answer;
  answer = cure::web::answer_to(request);
  return answer.c_str();
}
}
