/// The wall by Boost.Odeint's stiff stepper, rosenbrock4 with dense output. It takes only a dense
/// Jacobian, so a step costs as the cube of the unknowns. Apart from the library: Boost's uBLAS of
/// this age does not compile as C++20.
///   peer_odeint PROBLEM OUTPUT SECONDS TOLERANCE

#include <algorithm>
#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <cstddef>
#include <exception>
#include <iostream>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "peer.h"

namespace {

using Vector = boost::numeric::ublas::vector<double>;
using Matrix = boost::numeric::ublas::matrix<double>;

/// Temperatures are counted in units of `unit`, so that one tolerance fits them and alpha.
struct Equations {
  Problem const& p;
  double unit = 100.0;  ///< [K]
  long evaluations = 0;

  explicit Equations(Problem const& problem) : p(problem) {}

  [[nodiscard]] std::size_t cells() const { return static_cast<std::size_t>(p.cells); }
  [[nodiscard]] std::size_t first() const { return static_cast<std::size_t>(p.first); }
  [[nodiscard]] std::size_t reacting() const { return static_cast<std::size_t>(p.reacting); }

  void slopes(Vector const& y, Vector& f) {
    ++evaluations;
    auto const n = cells();
    double flow = p.inner[1] - p.inner[0] * y[0] * unit;
    for (std::size_t i = 0; i < n; ++i) {
      double const next = i + 1 < n ? p.conductance[i] * (y[i] - y[i + 1]) * unit
                                    : p.outer[0] * y[i] * unit - p.outer[1];
      f[i] = flow - next;
      flow = next;
    }
    for (std::size_t j = 0; j < reacting(); ++j) {
      double const r = peer_rate(&p, y[first() + j] * unit, y[n + j], 0).value;
      f[n + j] = r;
      f[first() + j] += p.source[j] * r;
    }
    for (std::size_t i = 0; i < n; ++i) f[i] /= p.capacity[i] * unit;
  }

  void jacobian(Vector const& y, Matrix& J) const {
    auto const n = cells();
    J.clear();
    for (std::size_t i = 0; i < n; ++i) {
      double const left = i > 0 ? p.conductance[i - 1] : p.inner[0];
      double const right = i + 1 < n ? p.conductance[i] : p.outer[0];
      J(i, i) = -(left + right) / p.capacity[i];
      if (i > 0) J(i, i - 1) = left / p.capacity[i];
      if (i + 1 < n) J(i, i + 1) = right / p.capacity[i];
    }
    for (std::size_t j = 0; j < reacting(); ++j) {
      auto const i = first() + j;
      auto const r = peer_rate(&p, y[i] * unit, y[n + j], 1);
      double const warms = p.source[j] / p.capacity[i];
      J(i, i) += warms * r.dT;
      J(i, n + j) = warms * r.dalpha / unit;
      J(n + j, i) = r.dT * unit;
      J(n + j, n + j) = r.dalpha;
    }
  }
};

}  // namespace

int main(int argc, char** argv) try {
  namespace odeint = boost::numeric::odeint;
  if (argc != 5) {
    throw std::invalid_argument("usage: peer_odeint PROBLEM OUTPUT SECONDS TOLERANCE");
  }
  Problem p = peer_read(argv[1]);
  double const budget = std::stod(argv[3]), tolerance = std::stod(argv[4]);
  Equations equations(p);
  auto const width = peer_width(&p), samples = static_cast<std::size_t>(p.samples);
  auto const scale = [&](std::size_t i) { return i < equations.cells() ? equations.unit : 1.0; };
  std::vector<double> times(p.times, p.times + p.samples), states(width * samples);
  times.insert(times.begin(), 0.0);
  auto const system =
      std::make_pair([&](Vector const& y, Vector& f, double) { equations.slopes(y, f); },
                     [&](Vector const& y, Matrix& J, double, Vector& ft) {
                       equations.jacobian(y, J);
                       ft.clear();
                     });
  Stopwatch watch{0.0, 0.0, 0};
  std::size_t steps = 0;
  while (peer_again(&watch, budget)) {
    double const begin = peer_clock();
    equations.evaluations = 0;
    Vector y(width);
    for (std::size_t i = 0; i < width; ++i) y[i] = p.start[i] / scale(i);
    std::size_t row = 0;
    steps = odeint::integrate_times(
        odeint::make_dense_output(tolerance, tolerance, odeint::rosenbrock4<double>()), system, y,
        times.begin(), times.end(), 1e-3, [&](Vector const& at, double t) {
          if (t == 0.0) return;
          for (std::size_t i = 0; i < width; ++i) states[row * width + i] = at[i] * scale(i);
          ++row;
        });
    peer_lap(&watch, peer_clock() - begin);
  }
  peer_answer(&p, argv[2], states.data(), &watch, static_cast<long>(steps), 0,
              equations.evaluations, 1);
  peer_free(&p);
  return 0;
} catch (std::exception const& error) {
  std::cerr << "peer_odeint: " << error.what() << '\n';
  return 2;
}
