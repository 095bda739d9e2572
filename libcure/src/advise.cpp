#define CURE_BUILDS_ADVISE 1
#include "cure/advise/advisor.hpp"
