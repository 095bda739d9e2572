#include <gtest/gtest.h>

#include <atomic>
#include <cmath>
#include <cstdlib>
#include <new>
#include <vector>

#include "cure/ensemble/instructions.hpp"
#include "cure/numerics/rosenbrock.hpp"
#include "cure/process/wall.hpp"
#include "support.hpp"

namespace {
std::atomic<std::size_t> allocations = 0;
}

// Counts what is asked of the heap; there is nothing else to see an allocation by. Not beside the
// thread sanitizer, which has such operators of its own.
#ifndef LIBCURE_THREAD_SANITIZER
__attribute__((noinline)) void* operator new(std::size_t size) {
  ++allocations;
  if (void* p = std::malloc(size)) return p;
  throw std::bad_alloc();
}
__attribute__((noinline)) void operator delete(void* p) noexcept { std::free(p); }
__attribute__((noinline)) void operator delete(void* p, std::size_t) noexcept { std::free(p); }
#endif

namespace cure::ensemble {
namespace {

heat::Material const laminate{"laminate", 0.3, 1500.0, 1200.0};
double const source = 0.75 * 1150.0 * 400e3;

kinetics::KamalSourour<double> law(double speed) {
  using A = kinetics::Arrhenius<double>;
  return {A::from_A(2.5e5 * speed, 58e3), A::from_A(2e6 * speed, 56e3), 0.8, 1.6};
}
kinetics::ChernPoehlein<double> const diffusion{30.0, -0.8, 0.0057};

heat::Conduction wall(double thickness) {
  heat::Material const rubber{"rubber", 0.13, 910, 1100}, soil{"soil", 1.8, 1800, 1200};
  std::vector<heat::Layer> const layers{{"bladder", 0.004, rubber, 6, 1.0, 0.0},
                                        {"liner", thickness, laminate, 12, 1.0, 0.001},
                                        {"ground", 0.2, soil, 24, 20.0, 0.0}};
  return {heat::make_mesh(heat::Geometry::cylinder, 0.042, layers), heat::Convection{8.0, 300.0},
          heat::FixedTemperature{281.0}};
}

/// A job with the arrays it points to.
struct OwnedJob {
  OwnedJob(double thickness, double speed, double end) : conduction(wall(thickness)), stops{end} {
    auto const& mesh = conduction.mesh();
    T.assign(conduction.size(), 295.0);
    alpha.assign(12, 0.02);
    for (std::size_t i = 6; i < 18; ++i) S.push_back(source * mesh.volume[i]);
    auto const in = conduction.inner_load(0.0, 295.0), out = conduction.outer_load(0.0, 295.0);
    loads = {in, out};
    using R = RateConstants;
    double const T_ref = 295.0;
    auto const k = law(speed);
    auto const set = [&](R::Index i, double x) { rate.value[i] = static_cast<float>(x); };
    set(R::inverse_T_ref, 1.0 / T_ref);
    put_constants(k, T_ref,
                  [&](std::size_t i, double x) { set(static_cast<R::Index>(R::law + i), x); });
    put_constants(diffusion, T_ref, [&](std::size_t i, double x) {
      set(static_cast<R::Index>(R::diffusion + i), x);
    });
    set(R::Tg_inf, 360.0);
    set(R::Tg0, 230.0);
    set(R::lambda, 0.5);
    set(R::alpha_gel, 0.5);
    set(R::working_alpha, 0.3);
    set(R::eta0, 1.0);
    set(R::alpha_min, 0.7);
  }
  LaneJob job() {
    LaneJob j;
    j.C = conduction.capacity().data();
    j.G = conduction.conductance().data();
    j.S = S.data();
    j.T = T.data();
    j.alpha = alpha.data();
    j.stops = stops.data();
    j.stop_count = stops.size();
    j.rate = &rate;
    j.loads = loads;
    return j;
  }
  heat::Conduction conduction;
  std::vector<double> T, alpha, S, stops;
  RateConstants rate;
  Loads loads;
};

JobShape shape(double temperature_tolerance, double alpha_tolerance) {
  JobShape s;
  s.cells = 42;
  s.first_reacting = 6;
  s.reacting = 12;
  s.law = kinetics::law_number<kinetics::KamalSourour>;
  s.diffusion =
      kinetics::number_in<kinetics::ChernPoehlein<double>, kinetics::DiffusionControl<double>>();
  s.tolerance.temperature = temperature_tolerance;
  s.tolerance.alpha = alpha_tolerance;
  return s;
}

std::vector<Instructions> here() {
  std::vector<Instructions> list;
  for (auto const i : {Instructions::baseline, Instructions::avx2, Instructions::avx512}) {
    if (supported(i)) list.push_back(i);
  }
  return list;
}

TEST(PackedSolver, AgreesWithTheWallSolvedAlone) {
  double const end = 3.0 * 3600.0;
  for (auto const instructions : here()) {
    std::vector<OwnedJob> owned;
    for (int i = 0; i < 11; ++i) owned.emplace_back(0.003 + 0.0005 * i, 0.7 + 0.1 * i, end);
    std::vector<LaneJob> jobs;
    for (auto& o : owned) jobs.push_back(o.job());
    std::vector<double> workspace(workspace_size(42, 12));
    solver(instructions)(shape(2e-3, 2e-6), jobs.data(), jobs.size(), workspace.data());
    for (int i = 0; i < 11; ++i) {
      auto& o = owned[static_cast<std::size_t>(i)];
      ASSERT_EQ(jobs[static_cast<std::size_t>(i)].status, LaneStatus::finished);
      process::Wall alone(wall(0.003 + 0.0005 * i), {law(0.7 + 0.1 * i), diffusion}, 1, source,
                          {1e-4, 1e-7});
      auto const y = test::solve(alone, test::uniform_state(alone, 295.0, 0.02), end);
      for (std::size_t k = 0; k < 42; ++k) EXPECT_NEAR(o.T[k], y[k], 5e-3) << name(instructions);
      for (std::size_t j = 0; j < 12; ++j) EXPECT_NEAR(o.alpha[j], y[42 + j], 2e-5);
    }
  }
}

TEST(PackedSolver, AsksNothingOfTheHeap) {
  std::vector<OwnedJob> owned;
  for (int i = 0; i < 20; ++i) owned.emplace_back(0.004, 1.0, 3600.0);
  std::vector<LaneJob> jobs;
  for (auto& o : owned) jobs.push_back(o.job());
  std::vector<double> workspace(workspace_size(42, 12));
  for (auto const instructions : here()) {
    auto const solve = solver(instructions);
    auto const before = allocations.load();
    solve(shape(0.05, 1e-4), jobs.data(), jobs.size(), workspace.data());
    EXPECT_EQ(allocations.load(), before) << name(instructions);
  }
}

TEST(DenseStepper, AsksNothingOfTheHeapInsideAStep) {
  process::Wall alone(wall(0.004), {law(1.0), diffusion}, 1, source, {5e-3, 5e-6});
  numerics::DenseStepper<process::Wall> stepper;
  stepper.initialize(test::uniform_state(alone, 295.0, 0.02), 0.0, 0.0);
  stepper.do_step(alone, 3600.0);
  auto const before = allocations.load();
  while (stepper.current_time() < 3600.0) stepper.do_step(alone, 3600.0);
  EXPECT_EQ(allocations.load(), before);
  EXPECT_GT(stepper.steps(), 20u);
}

TEST(PackedSolver, SaysWhichJobCannotBeDone) {
  OwnedJob good(0.004, 1.0, 3600.0), bad(0.004, 1.0, 3600.0);
  bad.T[20] = std::nan("");
  std::vector<LaneJob> jobs{good.job(), bad.job(), good.job()};
  std::vector<double> workspace(workspace_size(42, 12));
  solver(Instructions::best)(shape(0.05, 1e-4), jobs.data(), jobs.size(), workspace.data());
  EXPECT_EQ(jobs[0].status, LaneStatus::finished);
  EXPECT_EQ(jobs[1].status, LaneStatus::step_vanished);
}

}  // namespace
}  // namespace cure::ensemble
