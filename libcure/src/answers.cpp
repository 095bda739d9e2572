#define CURE_BUILDS_ANSWERS 1
#include "cure/io/answer_file.hpp"
#include "cure/io/follow_file.hpp"
#include "cure/io/page_file.hpp"
#include "cure/io/stated_file.hpp"
#include "cure/io/verdict_file.hpp"
