#pragma once
/// The loops of vector_kernels.hpp by the best instructions of the machine.

#include "cure/numerics/instructions.hpp"
#include "cure/numerics/vector_kernels.hpp"

namespace cure::numerics {

#ifdef CURE_COMPILED

// Compiled in libcure/src/vector, each with its own flags; an avx one is null where it cannot be.
extern VectorKernels const *const vector_kernels_baseline, *const vector_kernels_avx2,
                                                               *const vector_kernels_avx512;

inline Compiled<VectorKernels const*> compiled_vector_kernels() {
  return {vector_kernels_baseline, vector_kernels_avx2, vector_kernels_avx512};
}

#else

inline constexpr VectorKernels vector_kernels_here = VectorKernelsFor<own_register_bytes>::table();

inline Compiled<VectorKernels const*> compiled_vector_kernels() {
  return {&vector_kernels_here, nullptr, nullptr};
}

#endif

/// @throws InputError for instructions that this machine or build lacks
inline VectorKernels const& vector_kernels(Instructions instructions = Instructions::best) {
  return *compiled_vector_kernels().choose(instructions);
}

}  // namespace cure::numerics
