#define CURE_BUILDS_FOLLOW 1
#include "cure/follow/follow.hpp"
