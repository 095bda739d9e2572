// All other documents, in and out; the page for a telephone has these for size.
#define CURE_BUILDS_CASES 1
#define CURE_BUILDS_READINGS 1
#define CURE_BUILDS_ANSWERS 1
#define CURE_BUILDS_ADVICE 1
#define CURE_BUILDS_SCHEMAS 1
#include "cure/io/advice_file.hpp"
#include "cure/io/advice_job.hpp"
#include "cure/io/answer_file.hpp"
#include "cure/io/answered.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/follow_file.hpp"
#include "cure/io/job_file.hpp"
#include "cure/io/job_plan.hpp"
#include "cure/io/page_file.hpp"
#include "cure/io/readings_file.hpp"
#include "cure/io/schemas.hpp"
#include "cure/io/stated_file.hpp"
#include "cure/io/verdict_file.hpp"
