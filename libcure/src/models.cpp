#define CURE_BUILDS_MODELS 1
#include "cure/io/model_files.hpp"
#include "cure/io/resin_draws.hpp"
#include "cure/io/resin_file.hpp"
