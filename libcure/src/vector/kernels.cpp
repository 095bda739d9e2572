// Compiled once for each set of vector instructions, as named.hpp says.
#include "named.hpp"

#include "cure/kinetics/cell_rate_kernels.hpp"
#include "cure/numerics/vector_kernels.hpp"

namespace cure {

namespace numerics {

extern VectorKernels const* const CURE_NAMED(vector_kernels_);
#if CURE_REGISTER_BYTES > 0
static constexpr VectorKernels table = VectorKernelsFor<CURE_REGISTER_BYTES>::table();
VectorKernels const* const CURE_NAMED(vector_kernels_) = &table;
#else
VectorKernels const* const CURE_NAMED(vector_kernels_) = nullptr;
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
