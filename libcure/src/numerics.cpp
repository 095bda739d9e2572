#define CURE_BUILDS_NUMERICS 1
#include "cure/numerics/events.hpp"
