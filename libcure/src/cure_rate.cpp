#include "cure/kinetics/cure_rate.hpp"

namespace cure::kinetics {

template class CureRate<double>;
template void CureRate<double>::slopes(double const&, double const*, double*) const;

}  // namespace cure::kinetics
