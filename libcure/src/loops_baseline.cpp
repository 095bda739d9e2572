#include "cure/kinetics/packed_rates.hpp"
#include "cure/numerics/row_loops.hpp"

namespace cure {

namespace numerics {
extern RowLoops const* const row_loops_baseline;
static constexpr RowLoops table = RowLoopsFor<16>::table();
RowLoops const* const row_loops_baseline = &table;
}  // namespace numerics

namespace kinetics {
extern RatesOfMany const packed_rates_baseline;
RatesOfMany const packed_rates_baseline = &packed_rates<16>;
}  // namespace kinetics

}  // namespace cure
