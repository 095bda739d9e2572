// Prints the page of each case that comes with libcure. notebooks/guide.md shows this program.
#include <cstdio>
#include <filesystem>

#include "cure/decide/answer.hpp"
#include "cure/io/case_file.hpp"
#include "cure/page/page_of.hpp"
#include "cure/page/text.hpp"

int main() {
  std::filesystem::path const models = MODELS_DIR;
  int cases = 0;
  for (auto const& file : std::filesystem::directory_iterator(models / "cases")) {
    auto const job = cure::io::load_case(file.path(), {{models}});
    auto const answer = cure::decide::answer(job);
    // The one time to act on, if there is one: answer.decision.release_time [s].
    std::printf("%s\f\n", cure::page::text(cure::page::page_of(job, answer)).c_str());
    ++cases;
  }
  return cases > 0 ? 0 : 1;
}
