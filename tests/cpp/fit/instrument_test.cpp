#include "cure/fit/instrument.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace cure::fit {
namespace {

/// Unequal steps, as a record may have.
std::vector<double> times() {
  std::vector<double> t{0.0};
  for (int i = 0; i < 200; ++i) t.push_back(t.back() + (i % 3 == 0 ? 0.5 : 1.25));
  return t;
}

TEST(Instrument, RespondsToAStraightSignalAsTheClosedFormSays) {
  auto const t = times();
  double const tau = 7.0;
  auto q = t;  // y = t - tau (1 - exp(-t/tau))
  respond<double>(t, tau, q);
  for (std::size_t i = 0; i < t.size(); ++i) {
    EXPECT_NEAR(q[i], t[i] - tau * (1.0 - std::exp(-t[i] / tau)), 1e-10);
  }
}

TEST(Instrument, LeavesASignalAloneWithoutATimeConstant) {
  auto const t = times();
  auto q = t;
  respond<double>(t, 0.0, q);
  EXPECT_EQ(q, t);
}

TEST(Instrument, CarriesTheSlopeWithTheTimeConstant) {
  using D = Dual<1>;
  auto const t = times();
  for (double const tau : {0.0, 0.4, 12.0}) {
    std::vector<D> q;
    for (double const v : t) q.emplace_back(std::exp(-0.5 * std::pow((v - 90.0) / 20.0, 2)));
    auto const signal = q;
    respond<D>(t, D::variable(tau, 0), q);
    double const h = 1e-5;
    std::vector<double> up, down;
    for (auto const& v : signal) up.push_back(v.value), down.push_back(v.value);
    respond<double>(t, tau + h, up);
    respond<double>(t, tau > 0.0 ? tau - h : 0.0, down);
    for (std::size_t i = 0; i < t.size(); ++i) {
      EXPECT_NEAR(q[i].derivative[0], (up[i] - down[i]) / (tau > 0.0 ? 2.0 * h : h), 1e-5);
    }
  }
}

TEST(Instrument, ALaterSignalIsLowerWhereItRises) {
  using D = Dual<1>;
  auto const t = times();
  std::vector<D> q;
  for (double const v : t) q.emplace_back(0.25 * v);
  carry_delay<D>(t, D::variable(3.0, 0), q);
  for (std::size_t i = 0; i < t.size(); ++i) {
    EXPECT_EQ(q[i].value, 0.25 * t[i]);
    EXPECT_NEAR(q[i].derivative[0], -0.25, 1e-12);
  }
}

}  // namespace
}  // namespace cure::fit
