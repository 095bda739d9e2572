#define CURE_BUILDS_ADVICE 1
#include "cure/io/advice_file.hpp"
#include "cure/io/advice_job.hpp"
