#pragma once
/// Runs a wall from a state to its dense solution, landing on every corner of its boundaries.

#include <cstddef>
#include <utility>
#include <vector>

#include "cure/numerics/rosenbrock.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/numerics/trajectory.hpp"

namespace cure::process {

struct WallSolution {
  numerics::Trajectory path;  ///< temperatures and cure states, whatever the wall solves for
  std::size_t steps = 0, rejections = 0;
  double energy_residual = 0.0;  ///< [-]
};

/// @param y temperatures [K], cure states and zero heats
/// @param duration [s]
/// @tparam AnyWall Wall or Wall2
/// @throws SolverError
template <class AnyWall>
WallSolution solve_wall(AnyWall& wall, std::vector<double> y, double duration) {
  wall.to_state(y);
  numerics::DenseStepper<AnyWall> stepper;
  stepper.initialize(y, 0.0, 0.0);
  stepper.relinearise(wall);
  WallSolution out;
  out.path = numerics::Trajectory(wall.size());
  auto const keep = [&] {
    auto state = stepper.current_state();
    auto slope = stepper.current_slope();
    wall.to_temperature(state, slope);
    out.path.append(stepper.current_time(), state, slope);
  };
  keep();
  for (double const stop : numerics::stops_within(wall.conduction().corners(), duration)) {
    while (stepper.current_time() < stop) {
      stepper.do_step(wall, stop);
      keep();
    }
  }
  out.steps = stepper.steps();
  out.rejections = stepper.rejections();
  out.energy_residual = wall.energy_residual(y, stepper.current_state());
  return out;
}

}  // namespace cure::process
