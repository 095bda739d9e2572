#define CURE_BUILDS_CASES 1
#include "cure/io/case_file.hpp"
