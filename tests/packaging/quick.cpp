#include <cstdio>

#include "cure/io/case_file.hpp"
#include "cure/page/page_of.hpp"
#include "cure/page/text.hpp"

int main(int, char** argv) {  // CASE.json and the folder models
  auto const job = cure::io::load_case(argv[1], {{argv[2]}});
  std::puts(cure::page::text(cure::page::page_of(job, cure::decide::answer(job))).c_str());
}
