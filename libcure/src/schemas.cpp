#define CURE_BUILDS_SCHEMAS 1
#include "cure/io/schemas.hpp"
