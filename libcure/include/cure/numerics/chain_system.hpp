#pragma once
/// One symmetric tridiagonal system, M x = C r: cells in a row, each with an excess of its own, and
/// a link g between two neighbours that adds g to both their diagonals and -g off them, as a
/// conductance does. C is diagonal.
///
/// A cell with links g to its neighbours and excess e is eliminated by pivot = e + sum g: a
/// neighbour then gets the share g/pivot of e, and two neighbours a link g g'/pivot. Nothing is
/// subtracted, so no digits are lost while the excesses are positive (W.K. Grassmann, M.I. Taksar,
/// D.P. Heyman, Oper. Res. 33, 1107, 1985; from memory).
///
/// Each elimination has to wait for the one before it. So four of them run side by side, towards
/// two meeting points:  A-> meet <-B  middle  C-> meet <-D,  where the cells of B and C keep a link
/// to the middle one, which goes last.

#include <cstddef>
#include <span>
#include <vector>

#include "cure/numerics/pack.hpp"

namespace cure::numerics {

class ChainSystem {
 public:
  explicit ChainSystem(std::size_t cells) : n_(cells) {
    bool const four = n_ >= 7;
    q_ = four ? (n_ - 3) / 4 : 0;
    alone_ = four ? (n_ - 3) % 4 : n_ - 1;
    for (auto* v : {&own_, &next_, &forward_, &middle_, &forward_middle_}) v->assign(n_, 0.0);
  }

  /// @param excess of each cell
  /// @param link between cells i and i + 1, one fewer
  /// @param C,inverse_C of each cell
  /// @param least smallest pivot allowed, over C
  /// @returns false when a pivot is not above it
  [[nodiscard]] bool factorise(std::span<double const> excess, std::span<double const> link,
                               std::span<double const> C, std::span<double const> inverse_C,
                               double least) {
    eliminate(excess.data(), link.data());
    return finish(link.data(), C.data(), inverse_C.data(), least);
  }

  /// @param x in: r, out: the solution
  void solve(std::span<double> at) const {
    double* const x = at.data();
    double const *const own = own_.data(), *const next = next_.data();
    double const *const forward = forward_.data(), *const mid = middle_.data();
    for (std::size_t i = 0; i < alone_; ++i) x[i + 1] += forward[i] * x[i];
    if (q_ == 0) {
      x[n_ - 1] *= own[n_ - 1];
    } else {
      auto const m1 = meet1(), s = middle(), m2 = meet2();
      double const* const forward_mid = forward_middle_.data();
      double in_a = 0.0, in_b = 0.0, in_c = 0.0, in_d = 0.0, from_b = 0.0, from_c = 0.0;
      for (std::size_t k = 0; k < q_; ++k) {
        auto const a = alone_ + k, b = s - 1 - k, c = s + 1 + k, d = n_ - 1 - k;
        double const za = x[a] + in_a, zb = x[b] + in_b, zc = x[c] + in_c, zd = x[d] + in_d;
        x[a] = za;
        x[b] = zb;
        x[c] = zc;
        x[d] = zd;
        in_a = forward[a] * za;
        in_b = forward[b] * zb;
        in_c = forward[c] * zc;
        in_d = forward[d] * zd;
        from_b += forward_mid[b] * zb;
        from_c += forward_mid[c] * zc;
      }
      double const z1 = x[m1] + in_a + in_b, z2 = x[m2] + in_c + in_d;
      double const xs =
          own[s] * (x[s] + (from_b + from_c) + forward_mid[m1] * z1 + forward_mid[m2] * z2);
      double xa, xb, xc, xd;
      x[s] = xs;
      x[m1] = xa = xb = own[m1] * z1 + mid[m1] * xs;
      x[m2] = xc = xd = own[m2] * z2 + mid[m2] * xs;
      for (std::size_t k = q_; k-- > 0;) {
        auto const a = alone_ + k, b = s - 1 - k, c = s + 1 + k, d = n_ - 1 - k;
        x[a] = xa = own[a] * x[a] + next[a] * xa;
        x[b] = xb = (own[b] * x[b] + mid[b] * xs) + next[b] * xb;
        x[c] = xc = (own[c] * x[c] + mid[c] * xs) + next[c] * xc;
        x[d] = xd = own[d] * x[d] + next[d] * xd;
      }
    }
    for (std::size_t i = alone_; i-- > 0;) x[i] = own[i] * x[i] + next[i] * x[i + 1];
  }

 private:
  /// Inverse pivots into own_, links to the middle into middle_.
  void eliminate(double const* e, double const* G) {
    double *const inverse = own_.data(), *const to_middle = middle_.data();
    double ea = e[0];
    for (std::size_t i = 0; i < alone_; ++i) {
      inverse[i] = 1.0 / (ea + G[i]);
      ea = e[i + 1] + (G[i] * ea) * inverse[i];
    }
    if (q_ == 0) {
      inverse[n_ - 1] = 1.0 / ea;
      return;
    }
    auto const m1 = meet1(), s = middle(), m2 = meet2();
    // What comes to each run's present cell, beside that cell's own excess.
    double eb = e[s - 1], ec = e[s + 1], ed = e[n_ - 1], wb = G[s - 1], wc = G[s];
    double to_a = 0.0, to_b = 0.0, to_c = 0.0, to_d = 0.0, from_b = 0.0, from_c = 0.0;
    for (std::size_t k = 0; k < q_; ++k) {
      auto const a = alone_ + k, b = s - 1 - k, c = s + 1 + k, d = n_ - 1 - k;
      double const ga = G[a], gb = G[b - 1], gc = G[c], gd = G[d - 1];
      double const ia = 1.0 / (ea + ga), ib = 1.0 / ((wb + gb) + eb);
      double const ic = 1.0 / ((wc + gc) + ec), id = 1.0 / (ed + gd);
      inverse[a] = ia;
      inverse[b] = ib;
      inverse[c] = ic;
      inverse[d] = id;
      to_middle[b] = wb;
      to_middle[c] = wc;
      from_b += (wb * eb) * ib;
      from_c += (wc * ec) * ic;
      to_a = (ga * ea) * ia;
      to_b = (gb * eb) * ib;
      to_c = (gc * ec) * ic;
      to_d = (gd * ed) * id;
      wb = (gb * wb) * ib;
      wc = (gc * wc) * ic;
      ea = e[a + 1] + to_a;
      eb = e[b - 1] + to_b;
      ec = e[c + 1] + to_c;
      ed = e[d - 1] + to_d;
    }
    double const e1 = ea + to_b, e2 = ec + to_d;
    inverse[m1] = 1.0 / (e1 + wb);
    inverse[m2] = 1.0 / (e2 + wc);
    to_middle[m1] = wb;
    to_middle[m2] = wc;
    inverse[s] =
        1.0 / (e[s] + (from_b + from_c) + (wb * e1) * inverse[m1] + (wc * e2) * inverse[m2]);
  }

  /// The coefficients of the solution. @returns false when a pivot is too small
  bool finish(double const* G, double const* C, double const* per_C, double least) {
    auto const last = n_ - 1;
    auto const m1 = q_ == 0 ? last : meet1(), m2 = q_ == 0 ? last : meet2();
    auto const s = q_ == 0 ? last : middle();
    // Cells from `from` to `to` whose next one is after them, and before them.
    auto const up = [=, this](std::size_t from, std::size_t to) {
      scale(next_.data(), forward_.data(), own_.data(), G, C, per_C + 1, from, to);
    };
    auto const down = [=, this](std::size_t from, std::size_t to) {
      scale(next_.data(), forward_.data(), own_.data(), G - 1, C, per_C - 1, from, to);
    };
    up(0, m1);
    if (q_ > 0) {
      down(m1 + 1, s);
      up(s + 1, m2);
      down(m2 + 1, n_);
      for (std::size_t i = m1; i <= m2; ++i) {
        middle_[i] *= own_[i];
        forward_middle_[i] = middle_[i] * C[i] * per_C[s];
      }
    }
    using P = Pack<double, 4, 16>;
    P high(0.0), low(1.0);
    double highest = 0.0, lowest = 1.0;
    std::size_t i = 0;
    for (; i + P::size <= n_; i += P::size) {
      P const own = P::load(own_.data() + i) * P::load(C + i);
      own.store(own_.data() + i);
      high = max(high, own);
      low = min(low, own);
    }
    for (; i < n_; ++i) {
      own_[i] *= C[i];
      highest = own_[i] > highest ? own_[i] : highest;
      lowest = own_[i] < lowest ? own_[i] : lowest;
    }
    for (std::size_t k = 0; k < P::size; ++k) {
      highest = high.lane(k) > highest ? high.lane(k) : highest;
      lowest = low.lane(k) < lowest ? low.lane(k) : lowest;
    }
    return lowest > 0.0 && highest * least < 1.0;
  }

  static void scale(double* __restrict next, double* __restrict forward, double const* inverse,
                    double const* G, double const* C, double const* per_C_next, std::size_t from,
                    std::size_t to) {
    for (std::size_t i = from; i < to; ++i) {
      next[i] = G[i] * inverse[i];
      forward[i] = next[i] * C[i] * per_C_next[i];
    }
  }

  [[nodiscard]] std::size_t meet1() const { return alone_ + q_; }
  [[nodiscard]] std::size_t middle() const { return alone_ + 2 * q_ + 1; }
  [[nodiscard]] std::size_t meet2() const { return alone_ + 3 * q_ + 2; }

  std::size_t n_;
  std::size_t q_;      ///< cells of each of the four runs; 0 in a short row
  std::size_t alone_;  ///< first cells, which the runs leave over
  // Of the solution: what a cell takes of its own right-hand side, of its next cell towards a
  // meeting point, and of the middle; and what it hands on to them before.
  std::vector<double> own_, next_, middle_, forward_, forward_middle_;
};

}  // namespace cure::numerics
