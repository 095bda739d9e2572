// Compiled with -mavx2 -mfma (libcure/src flags in CMakeLists.txt); run only where the machine has
// them.
#include "cure/kinetics/packed_rates.hpp"
#include "cure/numerics/row_loops.hpp"

namespace cure {

namespace numerics {
extern RowLoops const* const row_loops_avx2;
#ifdef __AVX2__
static constexpr RowLoops table = RowLoopsFor<32>::table();
RowLoops const* const row_loops_avx2 = &table;
#else
RowLoops const* const row_loops_avx2 = nullptr;
#endif
}  // namespace numerics

namespace kinetics {
extern RatesOfMany const packed_rates_avx2;
#ifdef __AVX2__
RatesOfMany const packed_rates_avx2 = &packed_rates<32>;
#else
RatesOfMany const packed_rates_avx2 = nullptr;
#endif
}  // namespace kinetics

}  // namespace cure
