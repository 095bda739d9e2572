// Compiled once for each set of vector instructions, as named.hpp says.
#include "named.hpp"

#include "cure/ensemble/lane_job.hpp"

#if CURE_REGISTER_BYTES > 0
#include "cure/ensemble/solve_packed.hpp"
#endif

namespace cure::ensemble {

extern Solve const CURE_NAMED(solve_);
#if CURE_REGISTER_BYTES > 0
Solve const CURE_NAMED(solve_) = &solve_packed<CURE_REGISTER_BYTES>;
#else
Solve const CURE_NAMED(solve_) = nullptr;
#endif

}  // namespace cure::ensemble
