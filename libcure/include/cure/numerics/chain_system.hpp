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

namespace cure::numerics {

class ChainSystem {
 public:
  explicit ChainSystem(std::size_t cells) : n_(cells) {
    bool const four = n_ >= 7;
    q_ = four ? (n_ - 3) / 4 : 0;
    alone_ = four ? (n_ - 3) % 4 : n_ - 1;
    for (auto* v : {&own_, &next_, &forward_, &middle_, &forward_middle_}) v->assign(n_, 0.0);
  }

  /// @param excess of each cell; overwritten
  /// @param link between cells i and i + 1, one fewer
  /// @param least smallest pivot allowed for each cell
  /// @param C,inverse_C of each cell
  /// @returns false when a pivot is not above it
  [[nodiscard]] bool factorise(std::span<double> excess, std::span<double const> link,
                               std::span<double const> least, std::span<double const> C,
                               std::span<double const> inverse_C) {
    double* const e = excess.data();
    double const* const G = link.data();
    double margin = 1.0;
    auto const pivot = [&](std::size_t i, double p) {
      double const above = p - least[i];
      margin = above < margin ? above : margin;
      double const inverse = 1.0 / p;
      own_[i] = C[i] * inverse;
      return inverse;
    };
    // Eliminates cell i, whose one link g leads to cell j.
    auto const towards = [&](std::size_t i, std::size_t j, double g) {
      double const inverse = pivot(i, e[i] + g);
      next_[i] = g * inverse;
      forward_[i] = next_[i] * C[i] * inverse_C[j];
      e[j] += g * e[i] * inverse;
    };
    for (std::size_t i = 0; i < alone_; ++i) towards(i, i + 1, G[i]);
    if (q_ == 0) {
      pivot(n_ - 1, e[n_ - 1]);
      return margin > 0.0;
    }
    auto const m1 = meet1(), s = middle(), m2 = meet2();
    double const per_C = inverse_C[s];
    // The same for a cell that also has the link w to the middle.
    auto const beside = [&](std::size_t i, std::size_t j, double g, double& w) {
      double const inverse = pivot(i, e[i] + w + g);
      next_[i] = g * inverse;
      middle_[i] = w * inverse;
      forward_[i] = next_[i] * C[i] * inverse_C[j];
      forward_middle_[i] = middle_[i] * C[i] * per_C;
      double const own = e[i];
      w = g * w * inverse;
      e[j] += g * own * inverse;
      return middle_[i] * own;
    };
    double wB = G[s - 1], wC = G[s], to_middle = 0.0;
    for (std::size_t k = 0; k < q_; ++k) {
      auto const a = alone_ + k, b = s - 1 - k, c = s + 1 + k, d = n_ - 1 - k;
      towards(a, a + 1, G[a]);
      towards(d, d - 1, G[d - 1]);
      to_middle += beside(b, b - 1, G[b - 1], wB) + beside(c, c + 1, G[c], wC);
    }
    auto const meet = [&](std::size_t i, double w) {
      double const inverse = pivot(i, e[i] + w);
      middle_[i] = w * inverse;
      forward_middle_[i] = middle_[i] * C[i] * per_C;
      to_middle += middle_[i] * e[i];
    };
    meet(m1, wB);
    meet(m2, wC);
    pivot(s, e[s] + to_middle);
    return margin > 0.0;
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
