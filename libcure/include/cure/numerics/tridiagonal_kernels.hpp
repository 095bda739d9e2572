#pragma once
/// The loops of symmetric_tridiagonal.hpp on packs, in code compiled once for each set of vector
/// instructions. Nothing here uses the standard library's own functions, so that code compiled for
/// a newer machine cannot end up, through the linker, in the hands of an older one.
///
/// Four eliminations run side by side, a lane each, towards two meeting points:
///   A-> meet <-B  middle  C-> meet <-D.
/// The cells of B and C keep a link w to the middle, which goes last. Along a run, with excess E of
/// a cell itself, link g = 1/r to the next and f for what comes to it beside that link (its excess
/// e, with what earlier cells left it, and w), one elimination is f' = E' + f g/(f + g). As a
/// fraction, f = N/D, it needs no division, which the next cell would have to wait for:
///   D' = D + r N,   N' = N + E' D'   (the current and the voltage of a ladder of resistors).
/// Then g/(f + g) = D/D' is the share c of e that goes to the next cell, and of w that the next
/// cell's link to the middle gets; 1/(f + g) = r c is the inverse pivot.

#include <algorithm>
#include <cstddef>

#include "cure/numerics/pack.hpp"

namespace cure::numerics {

/// What a chain keeps. Cells of the four runs stand in packs, the k-th of each run together.
struct TridiagonalArrays {
  std::size_t cells = 0;
  std::size_t run = 0;    ///< cells of each of the four runs; 0 in a short row
  std::size_t alone = 0;  ///< first cells, which the runs leave over
  // Given: by pack, and by cell.
  double *pack_C = nullptr, *pack_r = nullptr;
  double const *C = nullptr, *G = nullptr;
  // From the elimination, by pack, and by cell for those outside the runs: c, the inverse pivot,
  // and w times that.
  double *pack_share = nullptr, *pack_inverse = nullptr, *pack_middle = nullptr;
  double *share = nullptr, *inverse = nullptr, *middle_link = nullptr;
  double* pack_x = nullptr;  ///< while solving

  [[nodiscard]] std::size_t meet1() const { return alone + run; }
  [[nodiscard]] std::size_t middle() const { return alone + 2 * run + 1; }
  [[nodiscard]] std::size_t meet2() const { return alone + 3 * run + 2; }
  // The k-th cell of each run.
  [[nodiscard]] std::size_t a(std::size_t k) const { return alone + k; }
  [[nodiscard]] std::size_t b(std::size_t k) const { return middle() - 1 - k; }
  [[nodiscard]] std::size_t c(std::size_t k) const { return middle() + 1 + k; }
  [[nodiscard]] std::size_t d(std::size_t k) const { return cells - 1 - k; }
};

template <std::size_t Bytes>
using RunPack = Pack<double, 4, Bytes>;

/// The k-th cells' numbers of an array by cell.
template <std::size_t Bytes>
RunPack<Bytes> gather_runs(TridiagonalArrays const& s, double const* x, std::size_t k) {
  return RunPack<Bytes>::of(x[s.a(k)], x[s.b(k)], x[s.c(k)], x[s.d(k)]);
}

/// Lays C and G out by pack, when they are new.
template <std::size_t Bytes>
void lay_out_tridiagonal(TridiagonalArrays const& s) {
  using P = RunPack<Bytes>;
  for (std::size_t k = 0; k < s.run; ++k) {
    gather_runs<Bytes>(s, s.C, k).store(s.pack_C + 4 * k);
    P const g = P::of(s.G[s.a(k)], s.G[s.b(k) - 1], s.G[s.c(k)], s.G[s.d(k) - 1]);
    (P(1.0) / g).store(s.pack_r + 4 * k);
  }
}

/// @param E excess of each cell
/// @param least smallest pivot allowed, over C
/// @returns false when a pivot is not above it
template <std::size_t Bytes>
bool factorise_tridiagonal(TridiagonalArrays const& chain, double const* E, double least) {
  using P = RunPack<Bytes>;
  TridiagonalArrays const s = chain;   // a copy that no store can change, so that it is read once
  double highest = 0.0, lowest = 1.0;  // of C over pivot
  auto const check = [&](double own) {
    highest = own > highest ? own : highest;
    lowest = own < lowest ? own : lowest;
  };
  auto const keep = [&](std::size_t i, double pivot) {
    s.inverse[i] = 1.0 / pivot;
    check(s.C[i] * s.inverse[i]);
    return s.inverse[i];
  };
  double first = E[0];
  for (std::size_t i = 0; i < s.alone; ++i) {
    s.share[i] = s.G[i] * keep(i, first + s.G[i]);
    first = E[i + 1] + s.share[i] * first;
  }
  if (s.run == 0) {
    keep(s.cells - 1, first);
    return lowest > 0.0 && highest * least < 1.0;
  }
  auto const m1 = s.meet1(), m = s.middle(), m2 = s.meet2();
  P excess = P::of(first, E[m - 1], E[m + 1], E[s.cells - 1]);
  P w = P::of(0.0, s.G[m - 1], s.G[m], 0.0), to_middle(0.0);
  P N = excess + w, D(1.0), high(0.0), low(1.0);
  for (std::size_t k = 0; k < s.run; ++k) {
    P const r = P::load(s.pack_r + 4 * k);
    P const next = k + 1 < s.run ? gather_runs<Bytes>(s, E, k + 1) : P::of(E[m1], 0.0, E[m2], 0.0);
    P const D_next = D + r * N;
    N = N + next * D_next;
    P const share = D / D_next, inverse = r * share, link = w * inverse;
    P const own = P::load(s.pack_C + 4 * k) * inverse;
    high = max(high, own);
    low = min(low, own);
    share.store(s.pack_share + 4 * k);
    inverse.store(s.pack_inverse + 4 * k);
    link.store(s.pack_middle + 4 * k);
    to_middle += link * excess;
    excess = next + share * excess;
    w = w * share;
    D = D_next;
    if (k % 8 == 7) {  // both grow along a run, and only their ratio counts
      N = N / D;
      D = P(1.0);
    }
  }
  for (std::size_t k = 0; k < 4; ++k) {
    check(high.lane(k));
    check(low.lane(k));
  }
  double const e1 = excess.lane(0) + excess.lane(1), e2 = excess.lane(2) + excess.lane(3);
  double const w1 = w.lane(1), w2 = w.lane(2);
  s.middle_link[m1] = w1 * keep(m1, e1 + w1);
  s.middle_link[m2] = w2 * keep(m2, e2 + w2);
  keep(m, E[m] + (to_middle.lane(1) + to_middle.lane(2)) + s.middle_link[m1] * e1 +
              s.middle_link[m2] * e2);
  return lowest > 0.0 && highest * least < 1.0;
}

/// @param x in: r, out: the solution
template <std::size_t Bytes>
void solve_tridiagonal(TridiagonalArrays const& chain, double* x) {
  using P = RunPack<Bytes>;
  TridiagonalArrays const s = chain;
  double first = 0.0, first_share = 0.0;
  for (std::size_t i = 0; i < s.alone; ++i) {
    x[i] = first = s.C[i] * x[i] + first_share * first;
    first_share = s.share[i];
  }
  if (s.run == 0) {
    auto const last = s.cells - 1;
    x[last] = s.inverse[last] * (s.C[last] * x[last] + first_share * first);
  } else {
    auto const m1 = s.meet1(), m = s.middle(), m2 = s.meet2();
    P z = P::of(first, 0.0, 0.0, 0.0), share(first_share), to_middle(0.0);
    for (std::size_t k = 0; k < s.run; ++k) {
      z = P::load(s.pack_C + 4 * k) * gather_runs<Bytes>(s, x, k) + share * z;
      z.store(s.pack_x + 4 * k);
      share = P::load(s.pack_share + 4 * k);
      to_middle += P::load(s.pack_middle + 4 * k) * z;
    }
    z = share * z;
    double const z1 = s.C[m1] * x[m1] + (z.lane(0) + z.lane(1));
    double const z2 = s.C[m2] * x[m2] + (z.lane(2) + z.lane(3));
    double const from_runs = to_middle.lane(1) + to_middle.lane(2);
    double const at_middle = s.inverse[m] * (s.C[m] * x[m] + from_runs + s.middle_link[m1] * z1 +
                                             s.middle_link[m2] * z2);
    double const x1 = s.inverse[m1] * z1 + s.middle_link[m1] * at_middle;
    double const x2 = s.inverse[m2] * z2 + s.middle_link[m2] * at_middle;
    x[m1] = x1;
    x[m] = at_middle;
    x[m2] = x2;
    P const middle(at_middle);
    P next = P::of(x1, x1, x2, x2);
    for (std::size_t k = s.run; k-- > 0;) {
      next = (P::load(s.pack_inverse + 4 * k) * P::load(s.pack_x + 4 * k) +
              P::load(s.pack_middle + 4 * k) * middle) +
             P::load(s.pack_share + 4 * k) * next;
      x[s.a(k)] = next.lane(0);
      x[s.b(k)] = next.lane(1);
      x[s.c(k)] = next.lane(2);
      x[s.d(k)] = next.lane(3);
    }
  }
  for (std::size_t i = s.alone; i-- > 0;) x[i] = s.inverse[i] * x[i] + s.share[i] * x[i + 1];
}

}  // namespace cure::numerics
