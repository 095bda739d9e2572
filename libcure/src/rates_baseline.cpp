#include "cure/kinetics/packed_rates.hpp"

namespace cure::kinetics {

extern RatesOfMany const packed_rates_baseline;
RatesOfMany const packed_rates_baseline = &packed_rates<16>;

}  // namespace cure::kinetics
