#pragma once
/// One symmetric tridiagonal system, M x = C r: cells in a row, each with an excess of its own, and
/// a link g between two neighbours that adds g to both their diagonals and -g off them, as a
/// conductance does. C is diagonal.
///
/// A cell with links g to its neighbours and excess e is eliminated by pivot = e + sum g: a
/// neighbour then gets the share g/pivot of e, and two neighbours a link g g'/pivot. Nothing is
/// subtracted, so no digits are lost while the excesses are positive (W.K. Grassmann, M.I. Taksar,
/// D.P. Heyman, Oper. Res. 33, 1107, 1985; from memory). How the cells share the machine's lanes:
/// tridiagonal_kernels.hpp.

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "cure/numerics/kernel_choice.hpp"

namespace cure::numerics {

class SymmetricTridiagonal {
 public:
  explicit SymmetricTridiagonal(std::size_t cells, VectorKernels const& loops = vector_kernels())
      : loops_(&loops) {
    auto& s = arrays_;
    bool const four = cells >= 7;
    s.cells = cells;
    s.run = four ? (cells - 3) / 4 : 0;
    s.alone = four ? (cells - 3) % 4 : cells - 1;
    std::array const packs{&s.pack_C,       &s.pack_r,      &s.pack_share,
                           &s.pack_inverse, &s.pack_middle, &s.pack_x};
    std::array const singles{&s.share, &s.inverse, &s.middle_link};
    store_.assign(packs.size() * 4 * s.run + singles.size() * cells, 0.0);
    double* next = store_.data();
    for (auto* p : packs) next = (*p = next) + 4 * s.run;
    for (auto* p : singles) next = (*p = next) + cells;
  }
  // The arrays stand in store_, or with the owner of this system.
  SymmetricTridiagonal(SymmetricTridiagonal const&) = delete;
  SymmetricTridiagonal& operator=(SymmetricTridiagonal const&) = delete;
  SymmetricTridiagonal(SymmetricTridiagonal&&) = default;
  SymmetricTridiagonal& operator=(SymmetricTridiagonal&&) = default;
  ~SymmetricTridiagonal() = default;

  /// Takes C and the links, when they are new; both stay where they are and are read by what
  /// follows.
  /// @param C of each cell
  /// @param link between cells i and i + 1, one fewer
  void set(std::span<double const> C, std::span<double const> link) {
    arrays_.C = C.data();
    arrays_.G = link.data();
    loops_->lay_out_tridiagonal(arrays_);
  }

  /// @param excess of each cell
  /// @param least smallest pivot allowed, over C
  /// @returns false when a pivot is not above it
  [[nodiscard]] bool factorise(std::span<double const> excess, double least) {
    return loops_->factorise_tridiagonal(arrays_, excess.data(), least);
  }

  /// @param x in: r, out: the solution
  void solve(std::span<double> x) { loops_->solve_tridiagonal(arrays_, x.data()); }

 private:
  VectorKernels const* loops_;
  TridiagonalArrays arrays_;
  std::vector<double> store_;
};

}  // namespace cure::numerics
