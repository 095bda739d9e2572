#pragma once
/// The packed solver for a law and a diffusion control that are known only at run time.

#include <cstddef>

#include "cure/ensemble/kernel.hpp"

namespace cure::ensemble {

template <std::size_t Bytes, LawKind law>
void solve_law(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace) {
  switch (shape.diffusion) {
    case DiffusionKind::none:
      return Kernel<Bytes, law, DiffusionKind::none>(shape, jobs, count, workspace).run();
    case DiffusionKind::chern_poehlein:
      return Kernel<Bytes, law, DiffusionKind::chern_poehlein>(shape, jobs, count, workspace).run();
    case DiffusionKind::rabinowitch:
      return Kernel<Bytes, law, DiffusionKind::rabinowitch>(shape, jobs, count, workspace).run();
  }
}

/// See Solve; for registers of `Bytes`.
template <std::size_t Bytes>
void solve_packed(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace) {
  switch (shape.law) {
    case LawKind::nth_order:
      return solve_law<Bytes, LawKind::nth_order>(shape, jobs, count, workspace);
    case LawKind::autocatalytic:
      return solve_law<Bytes, LawKind::autocatalytic>(shape, jobs, count, workspace);
    case LawKind::kamal_sourour:
      return solve_law<Bytes, LawKind::kamal_sourour>(shape, jobs, count, workspace);
  }
}

}  // namespace cure::ensemble
