// Predicts every case that is installed with libcure. This is the program that README.md shows.
#include <cstdio>
#include <filesystem>

#include "cure/io/case_file.hpp"
#include "cure/process/predict.hpp"

int main() {
  std::filesystem::path const models = MODELS_DIR;
  int cases = 0;
  for (auto const& file : std::filesystem::directory_iterator(models / "cases")) {
    auto const job = cure::io::load_case(file.path(), {{models}});
    auto const verdict = cure::process::predict(job).verdict;
    std::printf("%s\n", job.title.c_str());
    if (!verdict.release_time_recommended) {
      std::printf("  no release, see the cautions\n");
    } else {
      std::printf("  release %.0f min after mixing\n", *verdict.release_time_recommended / 60.0);
    }
    for (auto const& caution : verdict.cautions) std::printf("  - %s\n", caution.text.c_str());
    if (!verdict.gel_time_first) return 1;
    ++cases;
  }
  return cases > 0 ? 0 : 1;
}
