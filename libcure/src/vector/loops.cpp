// Compiled once for each set of vector instructions, as named.hpp says.
#include "named.hpp"

#include "cure/kinetics/cell_rate_loops.hpp"
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

extern RatesOfCells const CURE_NAMED(rates_of_cells_);
#if CURE_REGISTER_BYTES > 0
RatesOfCells const CURE_NAMED(rates_of_cells_) = &rates_of_cells<CURE_REGISTER_BYTES>;
#else
RatesOfCells const CURE_NAMED(rates_of_cells_) = nullptr;
#endif

}  // namespace kinetics

}  // namespace cure
