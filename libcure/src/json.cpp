#define CURE_BUILDS_JSON 1
#include "cure/io/json_text.hpp"
