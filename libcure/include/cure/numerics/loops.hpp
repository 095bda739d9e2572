#pragma once
/// The loops of row_loops.hpp by the best instructions of the machine.

#include "cure/numerics/instructions.hpp"
#include "cure/numerics/row_loops.hpp"

namespace cure::numerics {

#ifdef CURE_EXTERN_TEMPLATES

// Compiled in libcure/src/vector, each with its own flags; an avx one is null where it cannot be.
extern RowLoops const *const row_loops_baseline, *const row_loops_avx2, *const row_loops_avx512;

inline Compiled<RowLoops const*> compiled_row_loops() {
  return {row_loops_baseline, row_loops_avx2, row_loops_avx512};
}

#else

inline constexpr RowLoops row_loops_here = RowLoopsFor<own_register_bytes>::table();

inline Compiled<RowLoops const*> compiled_row_loops() {
  return {&row_loops_here, nullptr, nullptr};
}

#endif

/// @throws InputError for instructions that this machine or build lacks
inline RowLoops const& row_loops(Instructions instructions = Instructions::best) {
  return *compiled_row_loops().choose(instructions);
}

}  // namespace cure::numerics
