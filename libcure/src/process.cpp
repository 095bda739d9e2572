#define CURE_BUILDS_PROCESS 1
#include "cure/kinetics/batch.hpp"
#include "cure/process/predict.hpp"
#include "cure/process/refine.hpp"
#include "cure/process/validate.hpp"
