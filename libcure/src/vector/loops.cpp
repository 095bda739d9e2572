// Compiled once for each set of vector instructions, as named.hpp says.
#include "named.hpp"

#include "cure/kinetics/packed_rates.hpp"
#include "cure/numerics/row_loops.hpp"

namespace cure {

namespace numerics {

extern RowLoops const* const CURE_NAMED(row_loops_);
#if CURE_REGISTER_BYTES > 0
static constexpr RowLoops table = RowLoopsFor<CURE_REGISTER_BYTES>::table();
RowLoops const* const CURE_NAMED(row_loops_) = &table;
#else
RowLoops const* const CURE_NAMED(row_loops_) = nullptr;
#endif

}  // namespace numerics

namespace kinetics {

extern RatesOfMany const CURE_NAMED(packed_rates_);
#if CURE_REGISTER_BYTES > 0
RatesOfMany const CURE_NAMED(packed_rates_) = &packed_rates<CURE_REGISTER_BYTES>;
#else
RatesOfMany const CURE_NAMED(packed_rates_) = nullptr;
#endif

}  // namespace kinetics

}  // namespace cure
