#pragma once
/// The packed solver for a law and a diffusion control that are known only at run time.

#include <cstddef>

#include "cure/ensemble/kernel.hpp"

namespace cure::ensemble {

/// While it lives, results below the normal numbers (1.2e-38 in single precision) are zero: the
/// tails of heat in far ground would otherwise be computed in microcode, many times slower.
template <std::size_t Bytes>
class TinyToZero {
 public:
#if defined(__x86_64__)
  TinyToZero() : before_(__builtin_ia32_stmxcsr()) {
    constexpr unsigned flush_to_zero = 1u << 15, denormals_are_zero = 1u << 6;
    __builtin_ia32_ldmxcsr(before_ | flush_to_zero | denormals_are_zero);
  }
  ~TinyToZero() { __builtin_ia32_ldmxcsr(before_); }

 private:
  unsigned before_;
#else
  TinyToZero() = default;
  ~TinyToZero() = default;

 public:
#endif
  TinyToZero(TinyToZero const&) = delete;
  TinyToZero& operator=(TinyToZero const&) = delete;
};

/// See Solve; for registers of `Bytes`.
template <std::size_t Bytes>
void solve_packed(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace) {
  [[maybe_unused]] TinyToZero<Bytes> const guard;
  kinetics::each_listed<kinetics::RateLaw<double>>([&]<std::size_t law>() {
    using Law = kinetics::Listed<law, kinetics::RateLaw<double>>;
    if constexpr (kinetics::serves_packs<Law>()) {
      if (shape.law != law) return;
      kinetics::each_listed<kinetics::DiffusionControl<double>>([&]<std::size_t diffusion>() {
        if (shape.diffusion != diffusion) return;
        constexpr std::size_t shorter = packed_forms<Law>() - 1;
        if (shape.form == 0) {
          Kernel<Bytes, law, 0, diffusion>(shape, jobs, count, workspace).run();
        } else if constexpr (shorter > 0) {
          Kernel<Bytes, law, shorter, diffusion>(shape, jobs, count, workspace).run();
        }
      });
    }
  });
}

}  // namespace cure::ensemble
