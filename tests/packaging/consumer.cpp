// Decides on every case that is installed with libcure. notebooks/guide.md shows this program.
#include <cstdio>
#include <filesystem>

#include "cure/decide/answer.hpp"
#include "cure/io/case_file.hpp"

int main() {
  std::filesystem::path const models = MODELS_DIR;
  int cases = 0;
  for (auto const& file : std::filesystem::directory_iterator(models / "cases")) {
    auto const job = cure::io::load_case(file.path(), {{models}});
    auto const decision = cure::decide::answer(job).decision;
    std::printf("%s\n  %s\n", job.title.c_str(), decision.headline.c_str());
    for (auto const& reason : decision.reasons) std::printf("  - %s\n", reason.text.c_str());
    ++cases;
  }
  return cases > 0 ? 0 : 1;
}
