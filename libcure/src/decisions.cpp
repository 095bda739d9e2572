// What is made of it: answers and pages, advice, followed jobs.
#define CURE_BUILDS_DECIDE 1
#define CURE_BUILDS_ADVISE 1
#define CURE_BUILDS_FOLLOW 1
#include "cure/advise/advisor.hpp"
#include "cure/decide/answer.hpp"
#include "cure/follow/follow.hpp"
#include "cure/page/page_of.hpp"
#include "cure/page/text.hpp"
