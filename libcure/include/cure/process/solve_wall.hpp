#pragma once
/// Runs a wall from a state to its dense solution, landing on every corner of its boundaries.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <utility>
#include <vector>

#include "cure/numerics/kernel_choice.hpp"
#include "cure/numerics/rosenbrock.hpp"
#include "cure/numerics/run_control.hpp"
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
/// @param f slopes of the temperatures at the end of a step of length h [s]
/// @param y,y1,y0 temperatures at its end, at its start, and at the start of the step before [K]
inline void hold_slopes(numerics::VectorKernels const& loops, std::span<double> f, double h,
                        std::span<double const> y, std::span<double const> y1,
                        std::span<double const> y0) {
  // Hardly ever is there one that is too large.
  if (!loops.any_steeper(f.data(), 0.25 * h, y.data(), y1.data(), y0.data(), f.size())) return;
  for (std::size_t i = 0; i < f.size(); ++i) {
    double const most = 4.0 / h * std::max(std::abs(y[i] - y1[i]), std::abs(y1[i] - y0[i]));
    f[i] = std::clamp(f[i], -most, most);
  }
}

/// @param y temperatures [K], cure states and zero heats
/// @param duration [s]
/// @param meter of the simulation that this is a stage of
/// @tparam AnyWall Wall or SectionWall
/// @throws SolverError, InputError when the run takes too much, Stopped
template <class AnyWall>
WallSolution solve_wall(AnyWall& wall, std::vector<double> y, double duration,
                        numerics::RunMeter& meter) {
  wall.to_state(y);
  // ROS3 takes as many steps as ROS34PW2 for two thirds of the work, where it keeps its order.
  numerics::DenseStepper<AnyWall> stepper(
      wall.steady() ? numerics::ros3 : numerics::ros34pw2,
      {.max_steps = std::numeric_limits<std::size_t>::max()});  // the meter counts
  stepper.initialize(y, 0.0, 0.0);
  stepper.relinearise(wall);
  WallSolution out;
  out.path = numerics::Trajectory(wall.size());
  auto& path = out.path;
  path.reserve(100);
  auto const& loops = numerics::vector_kernels();
  auto const keep = [&] {
    meter.step(stepper.current_time(), wall.size());
    numerics::may_stop(32 * wall.size());
    path.append(stepper.current_time(), stepper.current_state(), stepper.current_slope());
    auto const [y_last, f_last] = path.last();
    wall.to_temperature(y_last, f_last);
    auto const last = path.times().size() - 1;
    if (last == 0) return;
    auto const n = wall.cells();
    hold_slopes(loops, f_last.first(n), path.times()[last] - path.times()[last - 1],
                y_last.first(n), path.state(last - 1), path.state(last < 2 ? last - 1 : last - 2));
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

/// The same by itself.
template <class AnyWall>
WallSolution solve_wall(AnyWall& wall, std::vector<double> y, double duration) {
  numerics::RunMeter meter;
  return solve_wall(wall, std::move(y), duration, meter);
}

}  // namespace cure::process
