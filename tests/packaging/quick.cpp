#include <cstdio>

#include "cure/io/answered.hpp"

int main(int, char** argv) {  // CASE.json and the folder models
  std::puts(cure::io::answered(argv[1], {argv[2]}).page.c_str());
}
