// What a project that only knows find_package(libcure) can do: predict a case with the installed
// headers and the installed models.
#include <cstdio>
#include <filesystem>

#include "cure/io/case_file.hpp"
#include "cure/process/cautions.hpp"

int main() {
  std::filesystem::path const models = MODELS_DIR;
  int cases = 0;
  for (auto const& entry : std::filesystem::directory_iterator(models / "cases")) {
    auto const verdict =
        cure::process::predict(cure::io::load_case(entry.path(), {{models}})).verdict;
    if (!verdict.gel_time_first) {
      std::printf("%s: no gel time\n", entry.path().c_str());
      return 1;
    }
    ++cases;
  }
  std::printf("%d cases\n", cases);
  return cases > 0 ? 0 : 1;
}
