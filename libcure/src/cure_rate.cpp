// What resins of one number type share, made once.
#define CURE_BUILDS_RATES 1
#include "cure/kinetics/cure_rate.hpp"
#include "cure/kinetics/rate_scale.hpp"

namespace cure::kinetics {

template class CureRate<double>;
template void CureRate<double>::slopes(double const&, double const*, double*) const;

}  // namespace cure::kinetics
