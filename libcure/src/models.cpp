// Model files.
#define CURE_BUILDS_JSON 1
#define CURE_BUILDS_MODELS 1
#include "cure/io/json_text.hpp"
#include "cure/io/model_files.hpp"
#include "cure/io/resin_draws.hpp"
#include "cure/io/resin_file.hpp"
