/// Exact sensitivities against central differences, compression against the full problem.

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "cure/fit/residuals.hpp"

namespace cure::fit {
namespace {

struct Example {
  char const* name;
  Law law;
  std::vector<double> p;
};

void PrintTo(Example const& e, std::ostream* out) { *out << e.name; }

std::vector<Example> examples() {
  double const E = 60e3, k = std::log(2e-3);
  Law law;
  law.T_ref = 380.0;
  auto const with = [&](char const* base, bool alpha0, bool diffusion, bool inhibitor) {
    Law l = law;
    l.base = base_named(base), l.alpha0 = alpha0, l.inhibitor = inhibitor;
    if (diffusion) l.diffusion = diffusion_named("chern-poehlein");
    return l;
  };
  Law branches = with("two-branch", false, false, false);
  Law amine = with("epoxy-amine", false, false, false);
  amine.ether = true;
  Law cold = with("kamal-sourour", false, false, false);
  cold.diffusion = diffusion_named("rabinowitch");
  cold.glass_transition = {250.0, 400.0, 0.4};
  return {
      {"two branches", branches, {k, 70e3, 3.0, 55e3, k + 0.5, 60e3, 0.8, 0.4}},
      {"two branches, the second constant negative",
       branches,
       {k + 0.5, 60e3, -1.2, 55e3, k, 57e3, 0.6, 0.3}},
      {"epoxy and amine", amine, {k - 1.0, 75e3, k + 1.0, 55e3, 0.6, 0.9, 0.05, k - 1.5, 75e3}},
      {"with Rabinowitch diffusion",
       cold,
       {k - 2.0, 70e3, k + 1.0, 55e3, 0.9, 1.6, std::log(1e-2), 30.0, 60.0}},
      {"nth order", with("nth-order", false, false, false), {k, E, 1.3}},
      {"below first order", with("nth-order", false, false, false), {k, E, 0.6}},
      {"autocatalytic",
       with("autocatalytic", true, false, false),
       {k + 1.5, E, 0.8, 1.7, std::log(0.004)}},
      {"autocatalysed n-th order",
       with("autocatalysed-nth-order", false, false, false),
       {k - 1.0, E, 1.4, std::log(20.0)}},
      {"Kamal-Sourour",
       with("kamal-sourour", false, false, false),
       {k - 2.0, 70e3, k + 1.0, 55e3, 0.9, 1.6}},
      {"with diffusion",
       with("kamal-sourour", false, true, false),
       {k - 2.0, 70e3, k + 1.0, 55e3, 0.9, 1.6, 30.0, 0.8, 2e-3}},
      {"with inhibitor",
       with("autocatalytic", true, false, true),
       {k + 1.5, E, 0.8, 1.7, std::log(0.004), k, 90e3, std::log(0.02)}},
      {"parallel",
       with("parallel", false, false, false),
       {0.4, k + 1.0, 55e3, 1.0, k - 1.0, 80e3, 1.4}},
  };
}

FitRun make_run(double beta, Scheme<double> const& truth, BaselineKind kind) {
  double const duration = 250.0 / beta;
  std::vector<double> time;
  for (int i = 0; i <= 400; ++i) time.push_back(duration * i / 400.0);
  Windows const w{0.0, 0.05 * duration, 0.95 * duration, duration};
  FitRun run{{{0.0, duration}, {280.0, 530.0}},
             0.0,
             time,
             Baseline(kind, time, w),
             {},
             {},
             true,
             1.0,
             1.0,
             1.0};
  auto const c = predict(run, truth, truth, {1e-8, 1e-11, 100000});
  run.rate = c.rate;
  run.alpha = c.alpha;
  run.peak = *std::max_element(c.rate.begin(), c.rate.end());
  return run;
}

class Residuals : public testing::TestWithParam<Example> {
 protected:
  Problem problem() const {
    auto const& e = GetParam();
    Problem problem;
    problem.law = e.law;
    problem.parameters = e.p;
    problem.control = {1e-8, 1e-11, 100000};
    for (std::size_t i = 0; i < e.p.size(); ++i) problem.free.push_back(i);
    auto const truth = scheme_of(e.law, e.p.data());
    for (double const beta : {2.0, 10.0}) {
      for (auto const kind : {BaselineKind::linear, BaselineKind::spline}) {
        problem.runs.push_back(make_run(beta / 60.0, truth, kind));
      }
    }
    auto last = problem.runs.back();
    last.own_heat = false;
    problem.runs.push_back(last);
    problem.cups.push_back({1500.0, 295.0, 293.0, 2e-4, 220.0, 0.5, 0.1});
    problem.cups.push_back({4000.0, 320.0, 320.0, HUGE_VAL, 0.0, 0.5, 0.1});
    return problem;
  }
};

TEST_P(Residuals, AreZeroForTheTruth) {
  auto const problem = this->problem();
  auto const& x = problem.parameters;
  std::vector<double> r(problem.residuals()), J(r.size() * x.size());
  evaluate(problem, x, r, J);
  for (std::size_t i = 0; i < 4 * 2 * 401; ++i) EXPECT_NEAR(r[i], 0.0, 2e-5);
}

TEST_P(Residuals, JacobianIsThatOfCentralDifferences) {
  auto const problem = this->problem();
  auto x = problem.parameters;
  for (auto& v : x) v *= 1.01;
  auto const n = problem.residuals(), p = x.size();
  std::vector<double> r(n), J(n * p), up(n), down(n), unused(n * p);
  evaluate(problem, x, r, J);
  for (std::size_t k = 0; k < p; ++k) {
    double const h = 1e-4 * std::max(std::abs(x[k]), 0.01);
    auto moved = x;
    moved[k] = x[k] + h;
    evaluate(problem, moved, up, unused);
    moved[k] = x[k] - h;
    evaluate(problem, moved, down, unused);
    double largest = 0.0;
    for (std::size_t i = 0; i < n; ++i) largest = std::max(largest, std::abs(J[i * p + k]));
    ASSERT_GT(largest, 0.0) << problem.law.parameters()[k].name;
    // An order below one stops with a corner; a difference across it is no derivative.
    std::size_t misses = 0;
    for (std::size_t i = 0; i < n; ++i) {
      double const difference = (up[i] - down[i]) / (2.0 * h);
      if (std::abs(J[i * p + k] - difference) > 2e-3 * largest) ++misses;
    }
    EXPECT_LE(misses, n / 200) << problem.law.parameters()[k].name;
  }
}

TEST_P(Residuals, CompressedProblemHasTheSameSumGradientAndCurvature) {
  for (auto const loss : {Loss::linear, Loss::soft_l1, Loss::huber, Loss::cauchy}) {
    auto problem = this->problem();
    problem.loss = loss;
    problem.loss_scale = 0.01;
    auto x = problem.parameters;
    x[0] += 0.05;
    auto const n = problem.residuals(), p = x.size(), w = p + 1;
    std::vector<double> r(n), J(n * p);
    evaluate(problem, x, r, J);
    auto const R = evaluate_compressed(problem, x);
    for (std::size_t a = 0; a <= p; ++a) {
      for (std::size_t b = a; b <= p; ++b) {
        double full = 0.0, size_a = 0.0, size_b = 0.0;
        for (std::size_t i = 0; i < n; ++i) {
          auto const e = robust(loss, r[i], problem.loss_scale);
          auto const column = [&](std::size_t k) {
            return k == p ? e.value : e.slope * J[i * p + k];
          };
          full += column(a) * column(b);
          size_a += column(a) * column(a);
          size_b += column(b) * column(b);
        }
        double small = 0.0;
        for (std::size_t i = 0; i < w; ++i) small += R[i * w + a] * R[i * w + b];
        ASSERT_NEAR(small, full, 1e-11 * std::sqrt(size_a * size_b));
      }
    }
  }
}

INSTANTIATE_TEST_SUITE_P(EachLaw, Residuals, testing::ValuesIn(examples()), [](auto const& info) {
  std::string name = info.param.name;
  std::erase_if(name, [](char c) { return !std::isalnum(c); });
  return name;
});

TEST(Problem, KnowsWhereTheSwitchOfATwoBranchLawStands) {
  Law law;
  law.base = two_branch_base;
  EXPECT_EQ(law.parameters().at(Problem::alpha_switch).name, "alpha_switch");
}

TEST(Robust, SquareIsTheLossAndSlopeIsItsDerivative) {
  for (auto const loss : {Loss::linear, Loss::soft_l1, Loss::huber, Loss::cauchy}) {
    for (double const r : {-3.0, -0.2, 1e-9, 0.4, 0.99, 1.01, 25.0}) {
      double const c = 0.7, h = 1e-6 * std::abs(r);
      auto const at = robust(loss, r, c);
      double const slope = (robust(loss, r + h, c).value - robust(loss, r - h, c).value) / (2 * h);
      EXPECT_NEAR(at.slope, slope, 1e-6);
      double const z = r * r / (c * c);
      double const rho = loss == Loss::linear    ? z
                         : loss == Loss::soft_l1 ? 2.0 * (std::sqrt(1.0 + z) - 1.0)
                         : loss == Loss::cauchy  ? std::log(1.0 + z)
                         : z <= 1.0              ? z
                                                 : 2.0 * std::sqrt(z) - 1.0;
      EXPECT_NEAR(at.value * at.value, c * c * rho, 1e-9 * c * c * rho + 1e-16);
    }
  }
}

TEST(CupTest, FilmGelsAtTheClosedFormAndRunawayAtTheAdiabaticOne) {
  Law law;
  law.base = base_named("nth-order");
  law.T_ref = 300.0;
  std::vector<double> const p{std::log(1e-4), 50e3, 1.0};
  auto const scheme = scheme_of(law, p.data());
  double const t = -std::log(1.0 - 0.6) / 1e-4;
  CupTest const film{t, 300.0, 300.0, HUGE_VAL, 0.0, 0.6, 0.1};
  EXPECT_NEAR(cup_residual(film, scheme, scheme, SolveControl{}), 0.0, 1e-4);
  CupTest hot = film;
  hot.loss = 0.0;
  hot.rise = 200.0;
  EXPECT_LT(cup_residual(hot, scheme, scheme, SolveControl{}), -5.0);
  CupTest never = film;
  never.gel_time = t / 1000.0;
  EXPECT_GT(cup_residual(never, scheme, scheme, SolveControl{}), 30.0);
}

}  // namespace
}  // namespace cure::fit
