#pragma once
/// The loops of one simulation's step, along a row of numbers, in code compiled once for each set
/// of vector instructions: no function of the standard library may be called in it (see
/// tridiagonal_kernels.hpp). A table of them is chosen at run time (loops.hpp).

#include <algorithm>
#include <cstddef>

#include "cure/numerics/cell_elimination.hpp"
#include "cure/numerics/pack.hpp"
#include "cure/numerics/tridiagonal_kernels.hpp"

namespace cure::numerics {

/// A sum of weighted arrays.
struct WeightedArrays {
  double weight[4];
  double const* array[4];
  std::size_t count = 0;

  /// One more; nothing when it weighs nothing.
  void add(double w, double const* x) {
    if (w == 0.0) return;
    weight[count] = w;
    array[count++] = x;
  }
};

/// What a step of an embedded method ends with: y + sum m_j K_j into `trial`, sum e_j K_j into
/// `error`.
struct StepEnd {
  double const* y = nullptr;
  double const* K[4];
  double m[4], e[4];
  std::size_t stages = 0;
  double *trial = nullptr, *error = nullptr;
};

struct VectorKernels {
  /// x = base + sum.
  void (*combine)(double* x, double const* base, WeightedArrays const& sum, std::size_t n);
  /// @returns whether all of the new state is finite
  bool (*conclude)(StepEnd const& end, std::size_t n);
  /// Largest |x|.
  double (*largest)(double const* x, std::size_t n);
  /// Largest |x| / (offset + |y|).
  double (*largest_over)(double const* x, double const* y, double offset, std::size_t n);
  /// Largest |y - from|.
  double (*farthest)(double const* y, double from, std::size_t n);
  /// Whether a |f| scale is above both |y - y1| and |y1 - y0|.
  bool (*any_steeper)(double const* f, double scale, double const* y, double const* y1,
                      double const* y0, std::size_t n);
  /// flow_i = (G_i (T_{i+1} - T_i) - G_{i-1} (T_i - T_{i-1})) factor_i, with `in` and `out` in
  /// place of the links that end cells lack.
  void (*net_flow)(double const* G, double const* T, double in, double out, double const* factor,
                   double* flow, std::size_t n);
  void (*lay_out_tridiagonal)(TridiagonalArrays const& chain);
  bool (*factorise_tridiagonal)(TridiagonalArrays const& chain, double const* excess, double least);
  void (*solve_tridiagonal)(TridiagonalArrays const& chain, double* x);
  double (*factorise_cells)(CellArrays const& cells, double d);
  void (*reduce_cells)(CellArrays const& cells, double d, double* x, double const* weight,
                       double* heat);
  void (*complete_cells)(CellArrays const& cells, double const* K_T, double* x);
  void (*excess_of_cells)(double d, double const* C, std::size_t n, double const* source,
                          double const* B, std::size_t first, std::size_t m, double* e);
};

template <std::size_t Bytes>
struct VectorKernelsFor {
  using P = Pack<double, 4, Bytes>;

  template <std::size_t N>
  static void sum_of(double* __restrict x, double const* base, WeightedArrays const& s,
                     std::size_t n) {
    double w[N];
    double const* a[N];
    for (std::size_t j = 0; j < N; ++j) {
      w[j] = s.weight[j];
      a[j] = s.array[j];
    }
    for (std::size_t i = 0; i < n; ++i) {
      double y = base[i];
      for (std::size_t j = 0; j < N; ++j) y += w[j] * a[j][i];
      x[i] = y;
    }
  }

  static void combine(double* x, double const* base, WeightedArrays const& s, std::size_t n) {
    switch (s.count) {
      case 0: __builtin_memcpy(x, base, n * sizeof(double)); break;
      case 1: sum_of<1>(x, base, s, n); break;
      case 2: sum_of<2>(x, base, s, n); break;
      case 3: sum_of<3>(x, base, s, n); break;
      default: sum_of<4>(x, base, s, n);
    }
  }

  // The same words for packs and for the numbers left over.
  template <class T>
  static T at(double const* x, std::size_t i) {
    if constexpr (__is_same(T, P)) {
      return P::load(x + i);
    } else {
      return x[i];
    }
  }
  static P magnitude(P const& x) { return abs(x); }
  static double magnitude(double x) { return __builtin_fabs(x); }
  static P larger(P const& x, P const& y) { return max(x, y); }
  static double larger(double x, double y) { return x > y ? x : y; }

  /// Largest of(i), and 0. @param of takes an index and a type to load there
  template <class Of>
  static double largest_of(std::size_t n, Of const& of) {
    // Four at a time, so that no maximum waits for the one before.
    P most_of[4] = {P(0.0), P(0.0), P(0.0), P(0.0)};
    std::size_t i = 0;
    for (; i + 4 * P::size <= n; i += 4 * P::size) {
      for (std::size_t u = 0; u < 4; ++u) {
        most_of[u] = max(of.template operator()<P>(i + u * P::size), most_of[u]);
      }
    }
    P four = max(max(most_of[0], most_of[1]), max(most_of[2], most_of[3]));
    for (; i + P::size <= n; i += P::size) four = max(of.template operator()<P>(i), four);
    double most = 0.0;
    for (; i < n; ++i) most = larger(of.template operator()<double>(i), most);
    for (std::size_t k = 0; k < P::size; ++k) most = larger(four.lane(k), most);
    return most;
  }

  static double largest(double const* x, std::size_t n) {
    return largest_of(n, [x]<class T>(std::size_t i) { return magnitude(at<T>(x, i)); });
  }
  static double largest_over(double const* x, double const* y, double offset, std::size_t n) {
    return largest_of(n, [=]<class T>(std::size_t i) {
      return T(magnitude(at<T>(x, i)) / (T(offset) + magnitude(at<T>(y, i))));
    });
  }
  static double farthest(double const* y, double from, std::size_t n) {
    return largest_of(n,
                      [=]<class T>(std::size_t i) { return magnitude(T(at<T>(y, i) - T(from))); });
  }
  static bool any_steeper(double const* f, double scale, double const* y, double const* y1,
                          double const* y0, std::size_t n) {
    return largest_of(n, [=]<class T>(std::size_t i) {
             T const y_1 = at<T>(y1, i);
             return T(magnitude(at<T>(f, i)) * T(scale) -
                      larger(magnitude(T(at<T>(y, i) - y_1)), magnitude(T(y_1 - at<T>(y0, i)))));
           }) > 0.0;
  }

  template <std::size_t Stages>
  static bool conclude_stages(StepEnd const& end, std::size_t n) {
    double m[Stages], e[Stages];
    double const* K[Stages];
    for (std::size_t j = 0; j < Stages; ++j) {
      m[j] = end.m[j];
      e[j] = end.e[j];
      K[j] = end.K[j];
    }
    double const* const y = end.y;
    double *const trial = end.trial, *const error = end.error;
    auto const one = [&]<class T>(std::size_t i) {
      T const k0 = at<T>(K[0], i);
      T a = at<T>(y, i) + T(m[0]) * k0, b = T(e[0]) * k0;
      for (std::size_t j = 1; j < Stages; ++j) {
        T const k = at<T>(K[j], i);
        a += T(m[j]) * k;
        b += T(e[j]) * k;
      }
      if constexpr (__is_same(T, P)) {
        a.store(trial + i);
        b.store(error + i);
      } else {
        trial[i] = a;
        error[i] = b;
      }
      return T(a - a);  // 0, or not a number
    };
    P nothing(0.0);
    std::size_t i = 0;
    for (; i + P::size <= n; i += P::size) nothing += one.template operator()<P>(i);
    double rest = 0.0;
    for (; i < n; ++i) rest += one.template operator()<double>(i);
    for (std::size_t k = 0; k < P::size; ++k) rest += nothing.lane(k);
    return rest == 0.0;
  }
  static bool conclude(StepEnd const& end, std::size_t n) {
    return end.stages == 3 ? conclude_stages<3>(end, n) : conclude_stages<4>(end, n);
  }

  static void net_flow(double const* G, double const* T, double in, double out,
                       double const* factor, double* __restrict flow, std::size_t n) {
    if (n == 1) {
      flow[0] = (in + out) * factor[0];
      return;
    }
    // What passes a face is computed for both its cells, with the same result, so that cells do
    // not wait for each other.
    flow[0] = (G[0] * (T[1] - T[0]) + in) * factor[0];
    for (std::size_t i = 1; i + 1 < n; ++i) {
      double const from_next = G[i] * (T[i + 1] - T[i]);
      double const to_last = G[i - 1] * (T[i] - T[i - 1]);
      flow[i] = (from_next - to_last) * factor[i];
    }
    flow[n - 1] = (out - G[n - 2] * (T[n - 1] - T[n - 2])) * factor[n - 1];
  }

  static constexpr VectorKernels table() {
    return {&combine,
            &conclude,
            &largest,
            &largest_over,
            &farthest,
            &any_steeper,
            &net_flow,
            &lay_out_tridiagonal<Bytes>,
            &factorise_tridiagonal<Bytes>,
            &solve_tridiagonal<Bytes>,
            &factorise_cells<Bytes>,
            &reduce_cells<Bytes>,
            &complete_cells<Bytes>,
            &excess_of_cells<Bytes>};
  }
};

}  // namespace cure::numerics
