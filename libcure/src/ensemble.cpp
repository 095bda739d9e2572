#define CURE_BUILDS_ENSEMBLE 1
#include "cure/ensemble/service_times.hpp"
#include "cure/ensemble/simulate_many.hpp"
#include "cure/ensemble/traces.hpp"
#include "cure/uncertain/quantile.hpp"
#include "cure/uncertain/sobol.hpp"
#include "cure/uncertain/stated.hpp"
