#pragma once
/// The rules by which a linearly implicit step is chosen, accepted or refused: one formulation for
/// a run of doubles and for packs, whose lanes each go their own way. The usual controller for an
/// embedded error estimate (e.g. Hairer & Wanner, "Solving Ordinary Differential Equations II", 2nd
/// ed., sec. IV.8, without its predictive part); the numbers are common practice, no source.

#include <cmath>
#include <type_traits>

#include "cure/scalar.hpp"

namespace cure::numerics {

/// Smallest pivots of (d - J): shares of d for the states of one cell, and of C d for a cell in its
/// row. A heat of cure takes from both, and below these a step is refused, not solved wrongly.
inline constexpr double least_cell_pivot = 0.1, least_row_pivot = 1e-3;

/// 1 / norm^(1/order), of which a few digits are enough.
inline double step_root(double norm, int order) {
  return static_cast<double>(std::pow(static_cast<float>(norm), -1.0F / static_cast<float>(order)));
}
template <class P>
P step_root(P const& norm, int order) {
  return exp(P(-1.0 / order) * log(norm));
}

/// Whether a step [s] is nothing beside the time t [s] that it starts at.
inline bool step_vanished(double step, double t) {
  double const age = t < 0.0 ? -t : t;
  return !(step > 1e-13 * (age > 1.0 ? age : 1.0));
}

/// @tparam T double or a pack
template <class T>
class StepSize {
 public:
  using Mask = decltype(T(0.0) < T(0.0));

  T next = T(0.0);  ///< the step to try [s]
  T h = T(0.0);     ///< the step that is being tried [s]
  Mask lands{};     ///< whether it ends at the next stop

  /// Starts anew, in `these` lanes, with the time in which the slopes alone would move the state by
  /// one tolerance. @param norm of the slopes, as of an error
  void start(T const& norm, Mask const& these) {
    T const first = select(norm > T(0.0), T(1.0) / norm, T(1.0));
    next = select(these, first, next);
    refused_ = refused_ & !these;
  }

  /// Sets the step to try. @param left time to the next stop [s]
  void aim(T const& left) {
    constexpr double close = std::is_same_v<T, double> ? 1e-9 : 1e-6;  // packs are of floats
    lands = next * T(1.0 + close) >= left;
    // Two half-size steps rather than a full one and a sliver.
    h = select(lands, left, select(next * T(2.0) > left, T(0.5) * left, next));
  }

  /// Judges the step tried and sets the next one.
  /// @param norm weighted error, <= 1 is good; infinite where there is no solution
  /// @returns whether it is accepted
  Mask judge(T const& norm, int order) {
    T const least(1e-12);
    auto const good = norm <= T(1.0);
    T const factor = T(0.9) * step_root(select(norm < least, least, norm), order);
    T const held = select(factor < T(0.2), T(0.2), select(factor < T(5.0), factor, T(5.0)));
    T grown = h * select(norm < T(1e30), held, T(0.2));
    // It does not grow right after a refusal.
    grown = select(refused_ & (grown > h), h, grown);
    // A step cut short to land on a stop says little about the next one.
    next = select(good & lands & (next > grown), next, grown);
    refused_ = !good;
    return good;
  }

 private:
  Mask refused_{};
};

}  // namespace cure::numerics
