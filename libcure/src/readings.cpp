#define CURE_BUILDS_READINGS 1
#include "cure/io/job_file.hpp"
#include "cure/io/job_plan.hpp"
#include "cure/io/readings_file.hpp"
