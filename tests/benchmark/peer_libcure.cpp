/// The wall by libcure, one case at a time.
///   peer_libcure PROBLEM OUTPUT SECONDS TOLERANCE_T TOLERANCE_ALPHA CASE MODELS [CELLS [STAGE]]
/// PROBLEM was written by wall_problem for the same case, cells and stage.

#include <algorithm>
#include <exception>
#include <iostream>
#include <string>
#include <vector>

#include "cure/process/solve_wall.hpp"
#include "peer.h"
#include "stage_wall.hpp"

int main(int argc, char** argv) try {
  if (argc < 8 || argc > 10) {
    throw cure::InputError("usage", "",
                           "peer_libcure PROBLEM OUTPUT SECONDS TOLERANCE_T TOLERANCE_ALPHA CASE "
                           "MODELS [CELLS [STAGE]]");
  }
  Problem p = peer_read(argv[1]);
  auto const stage = cure::benchmark::stage_wall(
      argv[6], argv[7], argc > 8 ? std::stoul(argv[8]) : 0, argc > 9 ? argv[9] : "held", 0.0);
  auto const width = peer_width(&p);
  if (!std::equal(stage.start.begin(), stage.start.end(), p.start, p.start + width)) {
    throw cure::InputError("PROBLEM", argv[1], "written for the same case, cells and stage");
  }
  auto wall = stage.wall({std::stod(argv[4]), std::stod(argv[5])});
  std::vector<double> start = stage.start, row(wall.size());
  start.resize(wall.size(), 0.0);
  std::vector<double> states(width * static_cast<std::size_t>(p.samples));
  double const budget = std::stod(argv[3]);
  Stopwatch watch{0.0, 0.0, 0};
  cure::process::WallSolution solution;
  while (peer_again(&watch, budget)) {
    double const begin = peer_clock();
    solution = cure::process::solve_wall(wall, start, p.times[p.samples - 1]);
    for (int i = 0; i < p.samples; ++i) {
      solution.path.state_at(p.times[i], row);
      std::copy_n(row.begin(), width, states.begin() + static_cast<std::ptrdiff_t>(width) * i);
    }
    peer_lap(&watch, peer_clock() - begin);
  }
  auto const steps = static_cast<long>(solution.steps);
  auto const rejections = static_cast<long>(solution.rejections);
  long const evaluations = wall.steady() ? 2 * steps + rejections : 4 * steps + 3 * rejections;
  peer_answer(&p, argv[2], states.data(), &watch, steps, rejections, evaluations, 1);
  peer_free(&p);
  return 0;
} catch (std::exception const& error) {
  std::cerr << "peer_libcure: " << error.what() << '\n';
  return 2;
}
