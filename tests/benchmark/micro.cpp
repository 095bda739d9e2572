/// What the parts of a simulation cost, smallest first. Run with --benchmark_filter=NAME for one.

#include <benchmark/benchmark.h>

#include <Eigen/LU>
#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <numbers>
#include <string>
#include <tuple>
#include <vector>

#include "cure/ensemble/simulate_many.hpp"
#include "cure/numerics/small_lu.hpp"
#include "cure/numerics/symmetric_tridiagonal.hpp"
#include "cure/numerics/tridiagonal.hpp"
#include "cure/process/predict.hpp"
#include "cure/process/section_wall.hpp"
#include "cure/process/solve_wall.hpp"
#include "cure/uncertain/samples.hpp"
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

/// Lower bound of the cost of a rate: its exponentials and its power alone, one after another.
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
  cure::kinetics::CellRates const rate(repair().resin.rate.reaction());
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
  cure::numerics::SymmetricTridiagonal system(n);
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

// By hand and by Eigen: why these stay by hand (DEVELOPERS.md, "Eigen").

/// One linearly implicit step's share of linear algebra: a factorisation and three solves.
constexpr int solves = 3;

/// A chain of cells with links of 1 and an excess that does not repeat.
struct Chain {
  explicit Chain(std::size_t n) : excess(n), link(n - 1, 1.0), C(n, 1.0) {
    for (std::size_t i = 0; i < n; ++i) excess[i] = 0.1 + 0.01 * static_cast<double>(i % 7);
  }
  std::vector<double> excess, link, C;
};

void chain_by_hand(benchmark::State& run) {
  Chain const chain(static_cast<std::size_t>(run.range(0)));
  cure::numerics::SymmetricTridiagonal system(chain.C.size());
  std::vector<double> x(chain.C.size(), 1.0);
  system.set(chain.C, chain.link);
  for (auto _ : run) {
    bool const good = system.factorise(chain.excess, 1e-6);
    benchmark::DoNotOptimize(good);
    for (int k = 0; k < solves; ++k) {
      system.solve(x);
      benchmark::ClobberMemory();
    }
    for (auto& v : x) v = v * 0.1 + 1.0;
  }
}
BENCHMARK(chain_by_hand)->Arg(80);

/// Links of a grid of `columns` cells in a row, and their excesses, as a sparse matrix.
Eigen::SparseMatrix<double> grid_matrix(Chain const& chain, std::size_t columns) {
  auto const n = static_cast<int>(chain.C.size()), m = static_cast<int>(columns);
  std::vector<Eigen::Triplet<double>> entries;
  auto const join = [&](int a, int b) {
    for (auto const& [i, j, v] : {std::tuple(a, a, 1.0), {b, b, 1.0}, {a, b, -1.0}, {b, a, -1.0}}) {
      entries.emplace_back(i, j, v);
    }
  };
  for (int c = 0; c < n; ++c) {
    entries.emplace_back(c, c, chain.excess[static_cast<std::size_t>(c)]);
    if (c + m < n) join(c, c + m);
    if (c % m + 1 < m) join(c, c + 1);
  }
  Eigen::SparseMatrix<double> matrix(n, n);
  matrix.setFromTriplets(entries.begin(), entries.end());
  return matrix;
}

/// Of a grid of 80 rows; one column is the chain.
void grid_by_eigen(benchmark::State& run) {
  auto const columns = static_cast<std::size_t>(run.range(0));
  auto const matrix = grid_matrix(Chain(80 * columns), columns);
  Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>> system;
  system.analyzePattern(matrix);
  Eigen::VectorXd x = Eigen::VectorXd::Ones(matrix.rows());
  for (auto _ : run) {
    system.factorize(matrix);
    for (int k = 0; k < solves; ++k) {
      x = system.solve(x).eval();
      benchmark::ClobberMemory();
    }
    x = (x.array() * 0.1 + 1.0).matrix();
  }
}
BENCHMARK(grid_by_eigen)->Arg(1)->Arg(48);

/// The same grid as a section solves it: column by column, then row by row.
void grid_by_hand(benchmark::State& run) {
  auto const m = static_cast<std::size_t>(run.range(0));
  Chain const chain(80 * m);
  cure::numerics::ColumnSystems columns(m);
  cure::numerics::RowSystems rows(m, false);
  std::vector<double> const link(chain.C.size(), 1.0), least(chain.C.size(), 1e-6);
  std::vector<double> x(chain.C.size(), 1.0);
  for (auto _ : run) {
    bool const good = columns.factorise(chain.excess, link, least);
    benchmark::DoNotOptimize(good);
    rows.factorise(chain.excess, link);
    for (int k = 0; k < solves; ++k) {
      columns.solve(x);
      rows.solve(x);
      benchmark::ClobberMemory();
    }
    for (auto& v : x) v = v * 0.1 + 1.0;
  }
}
BENCHMARK(grid_by_hand)->Arg(48);

/// A cell's cure states in a scheme of four: J small against the diagonal.
void four_by_hand(benchmark::State& run) {
  using Lu = cure::numerics::SmallLu<4>;
  Lu::Matrix J{};
  for (std::size_t i = 0; i < 4; ++i) {
    for (std::size_t k = 0; k < 4; ++k) J[i][k] = 0.1 * static_cast<double>(1 + (i + 2 * k) % 5);
  }
  Lu lu;
  std::size_t n = 4;  // known at run time only
  benchmark::DoNotOptimize(n);
  Lu::Vector x{1.0, 2.0, 3.0, 4.0};
  for (auto _ : run) {
    benchmark::DoNotOptimize(J);
    bool const good = lu.factorise(10.0, J, n);
    benchmark::DoNotOptimize(good);
    for (int k = 0; k < solves; ++k) x = lu.solve(x);
    benchmark::DoNotOptimize(x);
    for (auto& v : x) v = v * 0.1 + 1.0;
  }
}
BENCHMARK(four_by_hand);

/// @tparam Size 4, or Eigen::Dynamic: of how many states a scheme is, is known at run time only
template <int Size>
void four_by_eigen(benchmark::State& run) {
  using Matrix = Eigen::Matrix<double, Size, Size, 0, 4, 4>;
  using Vector = Eigen::Matrix<double, Size, 1, 0, 4, 1>;
  int n = 4;
  benchmark::DoNotOptimize(n);
  Matrix J(n, n);
  for (int i = 0; i < n; ++i) {
    for (int k = 0; k < n; ++k) J(i, k) = 0.1 * (1 + (i + 2 * k) % 5);
  }
  Vector x = Vector::LinSpaced(n, 1.0, 4.0);
  for (auto _ : run) {
    benchmark::DoNotOptimize(J);
    Eigen::PartialPivLU<Matrix> const lu(10.0 * Matrix::Identity(n, n) - J);
    for (int k = 0; k < solves; ++k) x = lu.solve(x).eval();
    benchmark::DoNotOptimize(x);
    x = (x.array() * 0.1 + 1.0).matrix();
  }
}
BENCHMARK(four_by_eigen<4>);
BENCHMARK(four_by_eigen<Eigen::Dynamic>);

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
      heat::make_section_mesh(heat::Section::around, edge,
                              std::vector<heat::Column>(columns, {mesh.face.front(), mesh.layers}));
  std::vector<heat::Boundary> inner;
  for (std::size_t j = 0; j < columns; ++j) {
    bool const wet = std::cos(made.position(j)) > 0.8;
    inner.push_back(heat::Convection{wet ? 200.0 : 10.0, 279.15});
  }
  heat::SectionConduction const conduction(
      made, inner, std::vector<heat::Boundary>(columns, heat::FixedTemperature{277.15}));
  cure::process::SectionWall wall(conduction, c.resin.rate, "liner", c.heat_of_laminate(),
                                  c.discretisation.tolerance);
  std::vector<double> y(wall.size(), 0.0);
  for (std::size_t cell = 0; cell < wall.cells(); ++cell) y[cell] = stage.start[cell / columns];
  auto const liner = wall.cells() / columns;
  for (std::size_t j = 0; j < wall.reacting_cells(); ++j) {
    y[wall.cells() + j] = stage.start[liner + j / columns];
  }
  double steps = 0.0;
  for (auto _ : run) {
    cure::numerics::DenseStepper<cure::process::SectionWall> stepper;
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

/// The 128 samples of a job around the pipe on one thread: rows of an ensemble, or a whole
/// prediction each at the case's own tolerance.
void section_samples(benchmark::State& run, bool whole) {
  constexpr std::size_t samples = 128;
  auto c = repair(models + "/cases/standing_water_invert.json");
  c.stages.pop_back();
  cure::uncertain::Draws const draws(c, cure::uncertain::usual(), samples);
  cure::ensemble::Plan plan;
  plan.base = &c;
  plan.threads = 1;
  draws.fill(plan);
  double release = 0.0;  // the latest
  for (auto _ : run) {
    release = 0.0;
    if (whole) {
      cure::process::Case row;
      for (std::size_t i = 0; i < samples; ++i) {
        cure::ensemble::detail::make_row(plan, i, row);
        release = std::max(release, cure::process::predict(row).verdict.release_time.value_or(0.0));
      }
    } else {
      for (auto const& o : cure::ensemble::simulate_many(plan)) {
        release = std::fmax(release, o.release_time);
      }
    }
  }
  run.counters["release_min"] = release / 60.0;
}
BENCHMARK_CAPTURE(section_samples, rows, false)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(section_samples, whole_predictions, true)->Unit(benchmark::kMillisecond);

}  // namespace
