#pragma once
/// Runs a wall from a state to its dense solution, landing on every corner of its boundaries.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
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

/// Holds slopes to what the states allow: over one step the dense output then departs from a
/// straight line by no more than the state moved in this step or the one before. A long step leaves
/// stiff temperatures within their tolerance, but a stiff slope multiplies even that.
/// @param f slopes of the temperatures at the end of a step of length h [s] that moved them by
/// `now`
/// @param before how far the step before moved them
inline void hold_slopes(std::span<double> f, double h, std::span<double const> now,
                        std::span<double const> before) {
  for (std::size_t i = 0; i < f.size(); ++i) {
    double const most = 4.0 / h * std::max(std::abs(now[i]), std::abs(before[i]));
    f[i] = std::clamp(f[i], -most, most);
  }
}

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
  std::vector<double> now(wall.cells()), before;
  auto const keep = [&] {
    auto state = stepper.current_state();
    auto slope = stepper.current_slope();
    wall.to_temperature(state, slope);
    auto const& times = out.path.times();
    if (!times.empty()) {
      auto const last = out.path.state(times.size() - 1);
      for (std::size_t i = 0; i < now.size(); ++i) now[i] = state[i] - last[i];
      if (before.empty()) before = now;
      hold_slopes(std::span(slope).first(now.size()), stepper.current_time() - times.back(), now,
                  before);
      before.swap(now);
    }
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
