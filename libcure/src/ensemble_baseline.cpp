#include "cure/ensemble/solve_packed.hpp"

namespace cure::ensemble {

extern Solve const solve_baseline;
Solve const solve_baseline = &solve_packed<16>;

}  // namespace cure::ensemble
