#pragma once
/// Which of the machine's vector instructions the packed solver uses. Targets that link libcure/src
/// choose among those compiled at run time; others have what their own flags allow.

#include <string>
#include <vector>

#include "cure/ensemble/lane_job.hpp"
#include "cure/error.hpp"

#ifndef CURE_EXTERN_TEMPLATES
#include "cure/ensemble/solve_packed.hpp"
#endif

namespace cure::ensemble {

enum class Instructions { best, baseline, avx2, avx512 };

inline char const* name(Instructions i) {
  constexpr char const* names[] = {"best", "baseline", "avx2", "avx512"};
  return names[static_cast<int>(i)];
}

#ifdef CURE_EXTERN_TEMPLATES

// Compiled in libcure/src, each with its own flags; an avx one is null where it cannot be.
extern Solve const solve_baseline, solve_avx2, solve_avx512;

inline bool supported(Instructions i) {
#if defined(__x86_64__)
  __builtin_cpu_init();
  if (i == Instructions::avx2) {
    return solve_avx2 != nullptr && __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
  }
  if (i == Instructions::avx512) {
    return solve_avx512 != nullptr && __builtin_cpu_supports("avx512f") &&
           __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512vl");
  }
#endif
  return i == Instructions::best || i == Instructions::baseline;
}

/// @throws InputError for instructions that this machine lacks
inline Solve solver(Instructions i) {
  if (!supported(i)) {
    throw InputError("instructions", name(i), "what this machine has; \"best\" chooses");
  }
  if (i == Instructions::avx512) return solve_avx512;
  if (i == Instructions::avx2) return solve_avx2;
  if (i == Instructions::best) {
    if (supported(Instructions::avx512)) return solve_avx512;
    if (supported(Instructions::avx2)) return solve_avx2;
  }
  return solve_baseline;
}

#else

inline bool supported(Instructions i) {
  return i == Instructions::best || i == Instructions::baseline;
}

inline Solve solver(Instructions i) {
  if (!supported(i)) throw InputError("instructions", name(i), "best or baseline in this build");
#if defined(__AVX512F__)
  return &solve_packed<64>;
#elif defined(__AVX2__)
  return &solve_packed<32>;
#else
  return &solve_packed<16>;
#endif
}

#endif

}  // namespace cure::ensemble
