// Whatever the bytes, a reader takes them or refuses them in one short line; all else is a finding:
// what the sanitizers see, another exception, a message that is no line. `tests/run.sh fuzz` runs
// each reader.

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <filesystem>
#include <string>

#include "cure/io/case_file.hpp"
#include "cure/io/job_file.hpp"
#include "cure/io/material_file.hpp"
#include "cure/io/model_files.hpp"
#include "cure/io/readings_file.hpp"
#include "cure/io/schemas.hpp"
#include "cure/io/stated_file.hpp"

namespace {

namespace io = cure::io;

std::filesystem::path const models = std::filesystem::path(LIBCURE_SOURCE_DIR) / "models";
io::ModelLibrary const library{{models}, models};
constexpr char const* file = "fuzzed.json";

void read_job(std::string const& text) {
  auto const said = io::read_job_document(io::parse(text, file), file);
  static auto const ids = io::resin_ids(library);
  auto const answers = io::understood(said, {ids.begin(), ids.end()}, file);
  io::read_case(io::parse(io::plan_job(answers).document.dump(), file), library, models, file);
}

/// The first line says what a person would: channel, "|", time of mixing.
void read_log(std::string const& text) {
  auto const end = std::min(text.find('\n'), text.size());
  auto const bar = std::min(text.find('|'), end);
  io::LogOptions said;
  if (bar < end) said = {text.substr(0, bar), text.substr(bar + 1, end - bar - 1)};
  io::parse_readings(bar < end ? text.substr(end) : text, "log.csv", said);
}

struct Reader {
  char const* name;
  void (*read)(std::string const& text);
};

Reader const* chosen = nullptr;

/// A document that the front reads further; its reader has the name of its kind.
void read_by_table(std::string const& text) {
  io::filled_document(chosen->name, io::parse(text, file), file);
}

constexpr std::array readers{
    Reader{"json", [](std::string const& text) { io::parse(text, file); }},
    Reader{"case", [](std::string const& text) { io::parse_case(text, library, models, file); }},
    Reader{"resin", [](std::string const& text) { io::read_resin(io::parse(text, file), file); }},
    Reader{"blend",
           [](std::string const& text) {
             io::resin_in(io::parse(text, file), models / "resins" / file, library);
           }},
    Reader{"material",
           [](std::string const& text) { io::read_material(io::parse(text, file), file, false); }},
    Reader{"ground",
           [](std::string const& text) { io::read_material(io::parse(text, file), file, true); }},
    Reader{"stated",
           [](std::string const& text) { io::read_stated(io::parse(text, file), "fuzzed", file); }},
    Reader{"chart", read_by_table},
    Reader{"fit", read_by_table},
    Reader{"study", read_by_table},
    Reader{"site", read_by_table},
    Reader{"job", read_job},
    Reader{"readings", read_log},
};

[[noreturn]] void found(char const* what, char const* text) {
  std::fprintf(stderr, "%s: %s\n", what, text);
  std::abort();
}

}  // namespace

/// Takes the name of the reader away before libFuzzer sees its arguments.
extern "C" int LLVMFuzzerInitialize(int* argc, char*** argv) {
  for (auto const& reader : readers) {
    if (*argc > 1 && std::strcmp((*argv)[1], reader.name) == 0) chosen = &reader;
  }
  if (chosen == nullptr) {
    for (auto const& reader : readers) std::fprintf(stderr, "%s\n", reader.name);
    std::exit(2);
  }
  (*argv)[1] = (*argv)[0];
  ++*argv;
  --*argc;
  return 0;
}

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size) {
  try {
    chosen->read(std::string(data, data + size));
  } catch (cure::Error const& e) {
    std::string const text = e.what();
    if (text.size() > 3000 || text.find_first_of("\n\r\0", 0, 3) != std::string::npos) {
      found("a message that is no short line", e.what());
    }
  } catch (std::exception const& e) {
    found("no error of the library", e.what());
  }
  return 0;
}
