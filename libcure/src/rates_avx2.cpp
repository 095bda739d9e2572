// Compiled with -mavx2 -mfma (libcure/src flags in CMakeLists.txt); run only where the machine has
// them.
#include "cure/kinetics/packed_rates.hpp"

namespace cure::kinetics {

extern RatesOfMany const packed_rates_avx2;
#ifdef __AVX2__
RatesOfMany const packed_rates_avx2 = &packed_rates<32>;
#else
RatesOfMany const packed_rates_avx2 = nullptr;
#endif

}  // namespace cure::kinetics
