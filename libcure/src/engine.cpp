// What is simulated: one case, and many samples of one.
#define CURE_BUILDS_PROCESS 1
#define CURE_BUILDS_NUMERICS 1
#define CURE_BUILDS_ENSEMBLE 1
#include "cure/ensemble/service_times.hpp"
#include "cure/ensemble/simulate_many.hpp"
#include "cure/ensemble/traces.hpp"
#include "cure/kinetics/batch.hpp"
#include "cure/numerics/events.hpp"
#include "cure/process/predict.hpp"
#include "cure/process/refine.hpp"
#include "cure/process/validate.hpp"
#include "cure/uncertain/foretold.hpp"
#include "cure/uncertain/moved_inputs.hpp"
#include "cure/uncertain/normal.hpp"
#include "cure/uncertain/quantile.hpp"
#include "cure/uncertain/sobol.hpp"
#include "cure/uncertain/stated.hpp"
