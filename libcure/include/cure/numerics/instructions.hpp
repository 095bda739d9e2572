#pragma once
/// Which of the machine's vector instructions the packed code uses. Targets that link libcure/src
/// choose at run time among the sets compiled there; others have what their own flags allow.

#include <cstddef>

#include "cure/error.hpp"

namespace cure::numerics {

enum class Instructions { best, baseline, avx2, avx512 };

inline char const* name(Instructions i) {
  constexpr char const* names[] = {"best", "baseline", "avx2", "avx512"};
  return names[static_cast<int>(i)];
}

/// Whether this machine can run code compiled for them.
inline bool machine_has(Instructions i) {
#if defined(__x86_64__)
  __builtin_cpu_init();
  if (i == Instructions::avx2) {
    return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
  }
  if (i == Instructions::avx512) {
    return __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") &&
           __builtin_cpu_supports("avx512vl");
  }
#endif
  return i == Instructions::best || i == Instructions::baseline;
}

/// Width of the vector registers that code compiled with this file's own flags may use.
#if defined(__AVX512F__)
inline constexpr std::size_t own_register_bytes = 64;
#elif defined(__AVX2__)
inline constexpr std::size_t own_register_bytes = 32;
#else
inline constexpr std::size_t own_register_bytes = 16;
#endif

/// A pointer to something compiled several times; null where it could not be.
template <class Function>
struct Compiled {
  Function baseline, avx2, avx512;

  [[nodiscard]] bool supports(Instructions i) const {
    if (i == Instructions::avx2 && avx2 == nullptr) return false;
    if (i == Instructions::avx512 && avx512 == nullptr) return false;
    return machine_has(i);
  }
  /// @throws InputError for instructions that this machine or build lacks
  [[nodiscard]] Function choose(Instructions i) const {
    if (!supports(i)) {
      throw InputError("instructions", name(i),
                       "what this machine and build have; \"best\" chooses");
    }
    if (i == Instructions::avx512) return avx512;
    if (i == Instructions::avx2) return avx2;
    if (i == Instructions::best) {
      if (supports(Instructions::avx512)) return avx512;
      if (supports(Instructions::avx2)) return avx2;
    }
    return baseline;
  }
};

}  // namespace cure::numerics
