// Compiled with -mavx512f -mavx512dq -mavx512vl -mfma (libcure/src flags in CMakeLists.txt); run
// only where the machine has them.
#include "cure/kinetics/packed_rates.hpp"
#include "cure/numerics/row_loops.hpp"

namespace cure {

namespace numerics {
extern RowLoops const* const row_loops_avx512;
#ifdef __AVX512F__
static constexpr RowLoops table = RowLoopsFor<64>::table();
RowLoops const* const row_loops_avx512 = &table;
#else
RowLoops const* const row_loops_avx512 = nullptr;
#endif
}  // namespace numerics

namespace kinetics {
extern RatesOfMany const packed_rates_avx512;
#ifdef __AVX512F__
RatesOfMany const packed_rates_avx512 = &packed_rates<64>;
#else
RatesOfMany const packed_rates_avx512 = nullptr;
#endif
}  // namespace kinetics

}  // namespace cure
