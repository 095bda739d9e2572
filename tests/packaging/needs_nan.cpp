// Compiled with options that take NaN away, which the headers must refuse (tests/CMakeLists.txt).
#include "cure/error.hpp"

int main() { return 0; }
