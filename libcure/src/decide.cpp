#define CURE_BUILDS_DECIDE 1
#include "cure/decide/answer.hpp"
#include "cure/page/page_of.hpp"
#include "cure/page/text.hpp"
