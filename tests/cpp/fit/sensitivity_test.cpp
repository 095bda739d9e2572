/// Steps with sensitivities: order, dense output, stiffness, and closed forms.

#include "cure/fit/sensitivity.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "cure/fit/law.hpp"
#include "cure/fit/residuals.hpp"

namespace cure::fit {
namespace {

/// y' = -lambda (y - cos t) - sin t, whose solution from y(0) = 1 is cos t (A. Prothero, A.
/// Robinson, Math. Comput. 28, 145, 1974, reference from memory).
struct Relaxation {
  double lambda;
  void slopes(double t, double const* y, double* f) const {
    f[0] = -lambda * (y[0] - std::cos(t)) - std::sin(t);
  }
  void linearise(double t, double const*, StatesJacobian& J, double* f_t) const {
    J[0][0] = -lambda;
    f_t[0] = -lambda * std::sin(t) - std::cos(t);
  }
};

template <class Step>
double error_after(std::size_t steps, bool inside) {
  Relaxation const system{1.0};
  double const h = 1.0 / static_cast<double>(steps);
  States<double> y{1.0}, f{};
  system.slopes(0.0, y.data(), f.data());
  Step step;
  Trial<double> trial;
  Path<double> path;
  path.append(0.0, y, f, {});
  for (std::size_t i = 0; i < steps; ++i) {
    step.attempt(system, 1, static_cast<double>(i) * h, h, y, f, {}, trial);
    y = trial.y, f = trial.f;
    path.append(static_cast<double>(i + 1) * h, y, f, trial.bend);
  }
  if (!inside) return std::abs(y[0] - std::cos(1.0));
  return std::abs(path.within(1.0 - 0.4 * h, 0, steps - 1) - std::cos(1.0 - 0.4 * h));
}

TEST(TrialSteps, HaveTheirOrder) {
  auto const order = [](auto const& error) { return std::log2(error(8) / error(16)); };
  EXPECT_NEAR(order([](std::size_t n) { return error_after<ExplicitStep<double>>(n, false); }), 5.0,
              0.3);
  // The quartic has a local error of order five.
  EXPECT_GT(order([](std::size_t n) { return error_after<ExplicitStep<double>>(n, true); }), 4.5);
  EXPECT_NEAR(order([](std::size_t n) { return error_after<ImplicitStep<double>>(n, false); }), 3.0,
              0.3);
}

TEST(Solve, StaysCheapAndRightWhereTheEquationsAreStiff) {
  for (double const lambda : {1.0, 1e3, 1e6}) {
    Relaxation const system{lambda};
    std::vector<double> const y0{1.0};
    auto const path = solve_with_sensitivities<double>(system, y0, 0.0, {10.0}, {1e-6, 1e-6, 20000},
                                                       [](auto const&) { return false; });
    EXPECT_LT(path.time.size(), 300u) << lambda;
    for (std::size_t i = 0; i < path.time.size(); ++i) {
      EXPECT_NEAR(path.state[i][0], std::cos(path.time[i]), 2e-5) << lambda;
    }
  }
}

/// n-th order held at T_ref: alpha = 1 - (1 - (1-n) k t)^(1/(1-n)), and d(alpha)/d(ln k) = k t
/// (1-alpha)^n.
TEST(Solve, SensitivityOfAnIsothermalReactionIsTheClosedForm) {
  for (double const n : {0.5, 1.0, 1.7}) {
    for (double const k : {1e-3, 1e2}) {
      Law law;
      law.base = base_named("nth-order");
      law.T_ref = 350.0;
      std::vector<double> const p{std::log(k), 60e3, n};
      std::vector<Dual<4>> const d{Dual<4>::variable(p[0], 0), Dual<4>::variable(p[1], 1),
                                   Dual<4>::variable(p[2], 2)};
      auto const scheme = scheme_of(law, d.data());
      auto const plain = scheme_of(law, p.data());
      numerics::Schedule const held(350.0);
      detail::RunSystem<Dual<4>> const system{scheme.rate, plain.rate, held};
      auto const path = solve_with_sensitivities<Dual<4>>(system, scheme.initial, 0.0, {5e3},
                                                          {1e-7, 1e-10, 20000},
                                                          [](auto const&) { return false; });
      EXPECT_LT(path.time.size(), 200u);
      for (std::size_t i = 0; i < path.time.size(); ++i) {
        double const kt = k * path.time[i];
        double const left = n == 1.0
                                ? std::exp(-kt)
                                : std::pow(std::max(1.0 - (1.0 - n) * kt, 0.0), 1.0 / (1.0 - n));
        EXPECT_NEAR(path.state[i][0].value, 1.0 - left, 1e-5);
        // An order below one ends in a corner, past which the rate is zero and the state unused.
        if (n < 1.0 && left < 1e-4) continue;
        EXPECT_NEAR(path.state[i][0].derivative[0], kt * std::pow(left, n), 2e-5);
        EXPECT_EQ(path.state[i][0].derivative[1], 0.0);  // at T_ref E does nothing
      }
    }
  }
}

TEST(NodeWeights, ReproduceAPolynomialOfDegreeSix) {
  for (double const s : {0.0, 0.1, 0.25, 0.4999, 0.77, 1.0}) {
    auto const w = detail::node_weights(s);
    for (int degree = 0; degree <= 6; ++degree) {
      double sum = 0.0;
      for (std::size_t j = 0; j < 7; ++j) sum += w[j] * std::pow(detail::nodes_of_step[j], degree);
      EXPECT_NEAR(sum, std::pow(s, degree), 1e-13);
    }
  }
}

}  // namespace
}  // namespace cure::fit
