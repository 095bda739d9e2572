#include <gtest/gtest.h>

#include <array>
#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <vector>

#include "cure/numerics/events.hpp"
#include "cure/numerics/rosenbrock.hpp"
#include "cure/numerics/schedule.hpp"

namespace cure::numerics {
namespace {

/// y' = lambda (y - cos t) - sin t, exact solution cos t from y(0) = 1
/// (A. Prothero, A. Robinson, Math. Comp. 28, 145, 1974).
struct ProtheroRobinson {
  double lambda;
  double tolerance = 1e-6;
  double t = 0.0, d = 0.0;
  void linearise(double time, std::span<double const> y, std::span<double> f) {
    t = time;
    evaluate(time, y, f);
  }
  void evaluate(double time, std::span<double const> y, std::span<double> f) const {
    f[0] = lambda * (y[0] - std::cos(time)) - std::sin(time);
  }
  bool time_derivative(std::span<double> f) const {
    f[0] = lambda * std::sin(t) - std::cos(t);
    return true;
  }
  bool factorise(double shift) {
    d = shift;
    return true;
  }
  void solve(std::span<double> x) const { x[0] /= d - lambda; }
  [[nodiscard]] double error_norm(std::span<double const> e, std::span<double const>) const {
    return std::abs(e[0]) / tolerance;
  }
  [[nodiscard]] std::string worst(std::span<double const>) const { return "y"; }
};

double error_with_fixed_steps(Tableau const& tableau, double lambda, int n) {
  ProtheroRobinson system{lambda, 1e9};
  DenseStepper<ProtheroRobinson> stepper(tableau, {.max_step = 2.0 / n});
  stepper.initialize({1.0}, 0.0, 2.0 / n);
  while (stepper.current_time() < 2.0) stepper.do_step(system, 2.0);
  return std::abs(stepper.current_state()[0] - std::cos(2.0));
}

TEST(Rosenbrock, ThirdOrderInTime) {
  for (auto const& tableau : {rodas3, ros34pw2, ros3}) {
    double const order = std::log2(error_with_fixed_steps(tableau, -1.0, 64) /
                                   error_with_fixed_steps(tableau, -1.0, 128));
    EXPECT_GT(order, 2.9);
  }
}

TEST(Rosenbrock, DampsWhatIsStifferThanTheStep) {
  // L-stability: an error far from the slow solution is gone after one huge step.
  ProtheroRobinson system{-1e8, 1e12};
  DenseStepper<ProtheroRobinson> stepper;
  stepper.initialize({100.0}, 0.0, 0.5);
  stepper.do_step(system, 0.5);
  EXPECT_NEAR(stepper.current_state()[0], std::cos(0.5), 1e-3);
}

/// y' = -y, whose slopes do not depend on time.
struct Decay : ProtheroRobinson {
  Decay() : ProtheroRobinson{-1.0, 1e-7} {}
  void linearise(double time, std::span<double const> y, std::span<double> f) {
    evaluate(time, y, f);
  }
  void evaluate(double, std::span<double const> y, std::span<double> f) const { f[0] = -y[0]; }
  static bool time_derivative(std::span<double>) { return false; }
};

TEST(Rosenbrock, TakesSystemsThatDoNotMove) {
  for (auto const& tableau : {rodas3, ros34pw2, ros3}) {
    Decay system;
    DenseStepper<Decay> stepper(tableau);
    stepper.initialize({1.0}, 0.0, 0.0);
    while (stepper.current_time() < 3.0) stepper.do_step(system, 3.0);
    EXPECT_NEAR(stepper.current_state()[0], std::exp(-3.0), 1e-6);
  }
}

TEST(Rosenbrock, KeepsToItsTolerance) {
  for (double const tolerance : {1e-4, 1e-6, 1e-8}) {
    ProtheroRobinson system{-50.0, tolerance};
    DenseStepper<ProtheroRobinson> stepper;
    stepper.initialize({1.0}, 0.0, 0.0);
    double worst = 0.0;
    std::vector<double> y;
    while (stepper.current_time() < 6.0) {
      auto const [a, b] = stepper.do_step(system, 6.0);
      for (double s = 0.0; s <= 1.0; s += 0.125) {
        double const t = a + s * (b - a);
        stepper.calc_state(t, y);
        worst = std::max(worst, std::abs(y[0] - std::cos(t)));
      }
    }
    EXPECT_LT(worst, 20.0 * tolerance) << "dense output included";
  }
}

TEST(Rosenbrock, ServesOdeintsIntegrateFunctions) {
  namespace odeint = boost::numeric::odeint;
  ProtheroRobinson system{-20.0, 1e-8};
  std::vector<double> y{1.0}, times, values;
  auto const observe = [&](std::vector<double> const& x, double t) {
    times.push_back(t);
    values.push_back(x[0]);
  };
  DenseStepper<ProtheroRobinson> const stepper;
  odeint::integrate_const(stepper, std::ref(system), y, 0.0, 3.0, 0.25, observe);
  ASSERT_GE(times.size(), 12u);
  for (std::size_t i = 0; i < times.size(); ++i) {
    EXPECT_NEAR(times[i], 0.25 * static_cast<double>(i), 1e-12);
    EXPECT_NEAR(values[i], std::cos(times[i]), 1e-6);
  }
  std::vector<double> z{1.0};
  odeint::integrate_adaptive(DenseStepper<ProtheroRobinson>{}, std::ref(system), z, 0.0, 3.0, 0.01);
  EXPECT_NEAR(z[0], std::cos(3.0), 1e-6);
}

struct NeverSolvable : ProtheroRobinson {
  bool factorise(double) { return false; }
};

TEST(Rosenbrock, SaysWhereItStopsWhenNoStepCanBeMade) {
  NeverSolvable system{{-1.0}};
  DenseStepper<NeverSolvable> stepper;
  stepper.initialize({1.0}, 0.0, 0.0);
  try {
    stepper.do_step(system);
    FAIL() << "a step was made";
  } catch (SolverError const& e) {
    EXPECT_NE(std::string(e.what()).find("step size fell"), std::string::npos);
    EXPECT_EQ(e.time_reached(), 0.0);
  }
}

Trajectory sine() {
  Trajectory path(1);
  for (double t = 0.0; t < 6.3; t += 0.3) {
    path.append(t, std::array{std::sin(t)}, std::array{std::cos(t)});
  }
  return path;
}

TEST(Trajectory, InterpolatesAndFindsEvents) {
  auto const path = sine();
  std::array<double, 1> y{};
  path.state_at(1.234, y);
  EXPECT_NEAR(y[0], std::sin(1.234), 1e-4);
  auto const first = first_event(path, [](auto s) { return s[0] - 0.5; });
  ASSERT_TRUE(first);
  EXPECT_NEAR(*first, std::asin(0.5), 1e-4);
  // Below zero from pi on, back above -0.5 at 11/6 pi and for good.
  auto const good = lasting_event(path, [](auto s) { return s[0] + 0.5; });
  ASSERT_TRUE(good);
  EXPECT_NEAR(*good, 11.0 / 6.0 * std::acos(-1.0), 1e-3);
  EXPECT_FALSE(first_event(path, [](auto s) { return s[0] - 1.5; }));
  EXPECT_FALSE(lasting_event(path, [](auto s) { return -1.0 - s[0]; }));
}

// What stays once it has turned is found by halving: the same time to the bit, from a few
// questions.
TEST(Trajectory, FindsWhatStaysByAFewQuestions) {
  Trajectory path(1);
  for (double t = 0.0; t < 100.0; t += 0.7)
    path.append(t, std::array{std::tanh(t / 40.0)},
                std::array{1.0 / (40.0 * std::cosh(t / 40.0) * std::cosh(t / 40.0))});
  for (double const level : {-1.0, 0.0, 0.3, 0.6, 0.9, 0.98, 1.1}) {
    int asked = 0;
    EventFunction const over = [level](auto s) { return s[0] - level; };
    auto const g = in_time(path, over);
    auto const turned = [&](double t) {
      ++asked;
      return g(t) >= 0.0;
    };
    EXPECT_EQ(first_turn(path, g, turned, true), first_turn(path, g)) << level;
    EXPECT_LE(asked, 12) << level;
  }
}

TEST(Trajectory, TruncatesInsideAStep) {
  auto path = sine();
  path.truncate(1.0);
  EXPECT_EQ(path.times().back(), 1.0);
  EXPECT_NEAR(path.state(path.times().size() - 1)[0], std::sin(1.0), 1e-4);
}

TEST(Schedule, IsPiecewiseLinearWithSlopesToTheRight) {
  Schedule const s({10.0, 20.0, 40.0}, {1.0, 3.0, 3.0});
  EXPECT_EQ(s.at(0.0), 1.0);
  EXPECT_EQ(s.at(15.0), 2.0);
  EXPECT_EQ(s.at(100.0), 3.0);
  EXPECT_EQ(s.slope(10.0), 0.2);
  EXPECT_EQ(s.slope(20.0), 0.0);
  EXPECT_EQ(s.slope(5.0), 0.0);
  EXPECT_THROW(Schedule({0.0, 0.0}, {1.0, 2.0}), InputError);
  EXPECT_THROW(Schedule({0.0, 1.0}, {1.0}), InputError);
  EXPECT_THROW(Schedule({0.0, std::nan("")}, {1.0, 2.0}), InputError);
}

}  // namespace
}  // namespace cure::numerics
