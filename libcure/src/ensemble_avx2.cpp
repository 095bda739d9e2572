// Compiled with -mavx2 -mfma (libcure/src flags in CMakeLists.txt); run only where the machine has
// them.
#include "cure/ensemble/lane_job.hpp"

#ifdef __AVX2__
#include "cure/ensemble/solve_packed.hpp"
#endif

namespace cure::ensemble {

extern Solve const solve_avx2;
#ifdef __AVX2__
Solve const solve_avx2 = &solve_packed<32>;
#else
Solve const solve_avx2 = nullptr;
#endif

}  // namespace cure::ensemble
