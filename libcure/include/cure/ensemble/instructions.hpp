#pragma once
/// The packed solver for the machine's vector instructions (see numerics/instructions.hpp).

#include "cure/ensemble/lane_job.hpp"
#include "cure/numerics/instructions.hpp"

#ifndef CURE_COMPILED
#include "cure/ensemble/solve_packed.hpp"
#endif

namespace cure::ensemble {

using numerics::Instructions, numerics::name;

#ifdef CURE_COMPILED

// Compiled in libcure/src/vector, each with its own flags; an avx one is null where it cannot be.
extern Solve const solve_baseline, solve_avx2, solve_avx512;

inline numerics::Compiled<Solve> compiled_solvers() {
  return {solve_baseline, solve_avx2, solve_avx512};
}

#else

inline numerics::Compiled<Solve> compiled_solvers() {
  return {&solve_packed<numerics::own_register_bytes>, nullptr, nullptr};
}

#endif

inline bool supported(Instructions i) { return compiled_solvers().supports(i); }

/// @throws InputError for instructions that this machine lacks
inline Solve solver(Instructions i) { return compiled_solvers().choose(i); }

}  // namespace cure::ensemble
