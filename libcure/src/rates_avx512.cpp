// Compiled with -mavx512f -mavx512dq -mavx512vl -mfma (libcure/src flags in CMakeLists.txt); run
// only where the machine has them.
#include "cure/kinetics/packed_rates.hpp"

namespace cure::kinetics {

extern RatesOfMany const packed_rates_avx512;
#ifdef __AVX512F__
RatesOfMany const packed_rates_avx512 = &packed_rates<64>;
#else
RatesOfMany const packed_rates_avx512 = nullptr;
#endif

}  // namespace cure::kinetics
