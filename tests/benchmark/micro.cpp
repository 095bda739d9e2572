/// What the parts of a simulation cost, smallest first. Run with --benchmark_filter=NAME for one.

#include <benchmark/benchmark.h>

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <numbers>
#include <string>
#include <vector>

#include "cure/numerics/chain_system.hpp"
#include "cure/process/predict.hpp"
#include "cure/process/solve_wall.hpp"
#include "cure/process/wall2.hpp"
#include "stage_wall.hpp"

namespace {

using cure::benchmark::StageWall;

std::string const models = LIBCURE_SOURCE_DIR "/models";
std::string const cold_ground = models + "/cases/cold_ground_winter.json";

cure::process::Case repair(std::string const& path = cold_ground) {
  return cure::io::load_case(path, cure::io::ModelLibrary{{std::filesystem::path(models)}});
}

StageWall held(std::size_t cells) {
  return cure::benchmark::stage_wall(cold_ground, models, cells, "held", 36000.0);
}

std::vector<double> state(StageWall const& stage, std::size_t size) {
  auto y = stage.start;
  y.resize(size, 0.0);
  return y;
}

/// The floor of a rate: its exponentials and its power alone, one after another.
void exponentials_and_power(benchmark::State& run) {
  std::vector<double> x(24), y(24);
  for (std::size_t i = 0; i < x.size(); ++i) x[i] = 0.3 + 0.02 * static_cast<double>(i);
  for (auto _ : run) {
    for (std::size_t i = 0; i < x.size(); ++i) {
      y[i] = std::exp(-x[i]) * std::exp(x[i]) * std::pow(x[i], 1.7);
    }
    benchmark::DoNotOptimize(y.data());
    benchmark::ClobberMemory();
  }
  run.SetItemsProcessed(run.iterations() * static_cast<std::int64_t>(x.size()));
}
BENCHMARK(exponentials_and_power);

/// Rate with both derivatives at the points of a liner.
void rate_law(benchmark::State& run) {
  cure::kinetics::ManyRates const rate(repair().resin.rate.reaction());
  std::vector<double> T(24), alpha(24), out(24), dT(24), dalpha(24);
  for (std::size_t i = 0; i < T.size(); ++i) {
    T[i] = 280.0 + static_cast<double>(i);
    alpha[i] = 0.02 + 0.03 * static_cast<double>(i);
  }
  for (auto _ : run) {
    rate.with_derivatives(T, alpha, out, dT, dalpha);
    benchmark::DoNotOptimize(out.data());
    benchmark::ClobberMemory();
  }
  run.SetItemsProcessed(run.iterations() * static_cast<std::int64_t>(T.size()));
}
BENCHMARK(rate_law);

/// Factorise and solve the tridiagonal system of one wall.
void tridiagonal(benchmark::State& run) {
  auto const n = static_cast<std::size_t>(run.range(0));
  cure::numerics::ChainSystem system(n);
  std::vector<double> const excess(n, 0.1), link(n - 1, 1.0), C(n, 1.0);
  std::vector<double> x(n, 1.0);
  system.set(C, link);
  for (auto _ : run) {
    bool const good = system.factorise(excess, 1e-6);
    benchmark::DoNotOptimize(good);
    system.solve(x);
    for (auto& v : x) v = v * 0.1 + 1.0;
    benchmark::ClobberMemory();
  }
  run.SetComplexityN(run.range(0));
}
BENCHMARK(tridiagonal)->RangeMultiplier(2)->Range(32, 2048)->Complexity(benchmark::oN);

/// One step of the held wall, the mean over ten hours of them, rejected tries included.
void wall_step(benchmark::State& run) {
  auto const stage = held(static_cast<std::size_t>(run.range(0)));
  auto wall = stage.wall(stage.repair.discretisation.tolerance);
  auto const start = state(stage, wall.size());
  cure::numerics::DenseStepper<cure::process::Wall> stepper;
  stepper.initialize(start, 0.0, 0.0);
  for (auto _ : run) {
    if (stepper.current_time() >= stage.duration) stepper.initialize(start, 0.0, 0.0);
    stepper.do_step(wall, stage.duration);
  }
  run.SetComplexityN(run.range(0));
}
BENCHMARK(wall_step)->RangeMultiplier(2)->Range(32, 2048)->Complexity(benchmark::oN);

/// Ten hours held, with dense output.
void wall_solve(benchmark::State& run) {
  auto const stage = held(static_cast<std::size_t>(run.range(0)));
  auto wall = stage.wall(stage.repair.discretisation.tolerance);
  auto const start = state(stage, wall.size());
  double steps = 0.0;
  for (auto _ : run) {
    steps = static_cast<double>(cure::process::solve_wall(wall, start, stage.duration).steps);
  }
  run.counters["steps"] = steps;
  run.SetComplexityN(run.range(0));
}
BENCHMARK(wall_solve)
    ->Unit(benchmark::kMicrosecond)
    ->RangeMultiplier(2)
    ->Range(32, 2048)
    ->Complexity(benchmark::oN);

/// A whole repair: every stage, the times, the cautions.
void predict(benchmark::State& run, std::string const& name) {
  auto const c = repair(models + "/cases/" + name + ".json");
  for (auto _ : run) benchmark::DoNotOptimize(cure::process::predict(c));
}
BENCHMARK_CAPTURE(predict, cold_ground_winter, "cold_ground_winter")->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(predict, hot_packer_summer, "hot_packer_summer")->Unit(benchmark::kMicrosecond);

/// Ten hours of the same wall around the pipe, water standing in its lower part.
void wall_around(benchmark::State& run) {
  namespace heat = cure::heat;
  auto const stage = held(0);
  auto const& c = stage.repair;
  auto const columns = static_cast<std::size_t>(run.range(0));
  auto const edge = heat::equal_edges(0.0, 2.0 * std::numbers::pi, columns);
  auto const& mesh = stage.conduction.mesh();
  auto const made =
      heat::make_mesh2(heat::Section::around, edge,
                       std::vector<heat::Column>(columns, {mesh.face.front(), mesh.layers}));
  std::vector<heat::Boundary> inner;
  for (std::size_t j = 0; j < columns; ++j) {
    bool const wet = std::cos(made.position(j)) > 0.8;
    inner.push_back(heat::Convection{wet ? 200.0 : 10.0, 279.15});
  }
  heat::Conduction2 const conduction(
      made, inner, std::vector<heat::Boundary>(columns, heat::FixedTemperature{277.15}));
  cure::process::Wall2 wall(conduction, c.resin.rate, "liner", c.heat_of_laminate(),
                            c.discretisation.tolerance);
  std::vector<double> y(wall.size(), 0.0);
  for (std::size_t cell = 0; cell < wall.cells(); ++cell) y[cell] = stage.start[cell / columns];
  auto const liner = wall.cells() / columns;
  for (std::size_t j = 0; j < wall.reacting_cells(); ++j) {
    y[wall.cells() + j] = stage.start[liner + j / columns];
  }
  double steps = 0.0;
  for (auto _ : run) {
    cure::numerics::DenseStepper<cure::process::Wall2> stepper;
    stepper.initialize(y, 0.0, 0.0);
    while (stepper.current_time() < stage.duration) stepper.do_step(wall, stage.duration);
    steps = static_cast<double>(stepper.steps());
  }
  run.counters["steps"] = steps;
  run.SetComplexityN(run.range(0));
}
BENCHMARK(wall_around)
    ->Unit(benchmark::kMillisecond)
    ->RangeMultiplier(2)
    ->Range(8, 32)
    ->Complexity(benchmark::oN);

}  // namespace
