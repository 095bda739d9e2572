// Compiled with -mavx512f -mavx512dq -mavx512vl -mfma (libcure/src flags in CMakeLists.txt); run
// only where the machine has them.
#include "cure/ensemble/lane_job.hpp"

#ifdef __AVX512F__
#include "cure/ensemble/solve_packed.hpp"
#endif

namespace cure::ensemble {

extern Solve const solve_avx512;
#ifdef __AVX512F__
Solve const solve_avx512 = &solve_packed<64>;
#else
Solve const solve_avx512 = nullptr;
#endif

}  // namespace cure::ensemble
