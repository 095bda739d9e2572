// What to change in a job that is installed with libcure, without Python.
#include <cstdio>
#include <filesystem>

#include "cure/advise/advisor.hpp"
#include "cure/io/case_file.hpp"

int main() {
  std::filesystem::path const models = MODELS_DIR;
  auto const job = cure::io::load_case(models / "cases" / "cold_ground_winter.json", {{models}});
  cure::advise::Options options;
  options.release_by = 5.0 * 3600.0;  // the crew leaves [s from mixing]
  options.samples = 64;
  auto const advice = cure::advise::advise({job, job.resin.id, {}}, options);
  std::printf("%s\n  %s\n", job.title.c_str(), advice.headline.c_str());
  for (auto const& p : advice.proposals) {
    if (p.does_it()) std::printf("  - %s\n", cure::advise::said(p).c_str());
  }
  for (auto const& n : advice.no_values) std::printf("  no: %s\n", n.words.c_str());
  return advice.planned.unmet.empty() || advice.good() == 0 ? 1 : 0;
}
