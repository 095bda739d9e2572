#include <cstdio>

#include "cure/decide/answer.hpp"
#include "cure/io/case_file.hpp"

int main(int, char** argv) {  // CASE.json and the folder models
  auto const job = cure::io::load_case(argv[1], {{argv[2]}});
  std::puts(cure::decide::answer(job).decision.headline.c_str());
}
