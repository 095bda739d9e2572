#pragma once
/// Several numbers side by side, one a case, that move through a formula together: the third scalar
/// that formulas are written for, beside double and Dual. Built on the vector types of GCC and
/// Clang; `Bytes` is the width of the machine's vector register and keeps code for different
/// machines apart in the linker's eyes.
///
/// exp and log follow the usual reduction (x = n ln 2 + r; x = 2^n m) with Taylor and atanh series,
/// as in M. Abramowitz, I.A. Stegun, "Handbook of Mathematical Functions" (1964), 4.2.1 and 4.1.27.
/// In double the series are cut short by interpolation at Chebyshev's points of the reduced range
/// (truncation below 2e-17 of the result), and summed in pairs, which wait less for each other.
/// They are written here because no library offers them on these vectors with names that stay
/// apart. Relative error below 3e-7 in float, 4e-16 in double.

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <type_traits>

#include "cure/arithmetic.hpp"

namespace cure {

/// f of each register of some packs, or masks, of one shape.
template <class Out, class F, class... In>
inline Out by_parts(F const& f, In const&... in) {
  Out r;
  r.v.a = f(in.v.a...);
  if constexpr (requires { r.v.b; }) r.v.b = f(in.v.b...);
  if constexpr (requires { r.v.d; }) {
    r.v.c = f(in.v.c...);
    r.v.d = f(in.v.d...);
  }
  return r;
}

template <class T, std::size_t N, std::size_t Bytes>
struct Pack {
  using value_type = T;
  using Whole = std::conditional_t<sizeof(T) == 8, std::int64_t, std::int32_t>;
  static constexpr std::size_t size = N;
  static constexpr std::size_t part_bytes = N * sizeof(T) < Bytes ? N * sizeof(T) : Bytes;
  static constexpr std::size_t parts = N * sizeof(T) / part_bytes;
  typedef T Part __attribute__((vector_size(part_bytes)));
  typedef Whole WholePart __attribute__((vector_size(part_bytes)));
  typedef std::make_unsigned_t<Whole> BitsPart __attribute__((vector_size(part_bytes)));

  // Registers as members with names: compilers keep those in registers where an array would go
  // through memory. (A template of its own for them would lose the vector attribute.)
  struct Part1 {
    Part a;
  };
  struct Part2 {
    Part a, b;
  };
  struct Part4 {
    Part a, b, c, d;
  };
  struct WholePart1 {
    WholePart a;
  };
  struct WholePart2 {
    WholePart a, b;
  };
  struct WholePart4 {
    WholePart a, b, c, d;
  };
  using Parts = std::conditional_t<parts == 1, Part1, std::conditional_t<parts == 2, Part2, Part4>>;
  using WholeParts = std::conditional_t<parts == 1, WholePart1,
                                        std::conditional_t<parts == 2, WholePart2, WholePart4>>;

  /// All bits of a lane set where a comparison holds.
  struct Mask {
    WholeParts v;
    friend Mask operator&(Mask const& a, Mask const& b) {
      return by_parts<Mask>([](auto x, auto y) { return x & y; }, a, b);
    }
    friend Mask operator|(Mask const& a, Mask const& b) {
      return by_parts<Mask>([](auto x, auto y) { return x | y; }, a, b);
    }
    friend Mask operator!(Mask const& a) {
      return by_parts<Mask>([](auto x) { return ~x; }, a);
    }
    [[nodiscard]] bool lane(std::size_t k) const {
      Whole all[N];
      std::memcpy(all, &v, sizeof all);
      return all[k] != 0;
    }
    /// One bit a lane, the first one lowest.
    [[nodiscard]] unsigned bits() const {
      Whole all[N];
      std::memcpy(all, &v, sizeof all);
      unsigned found = 0;
      for (std::size_t k = 0; k < N; ++k) found |= (all[k] != 0 ? 1u : 0u) << k;
      return found;
    }
    friend bool any(Mask const& a) {
      std::uint64_t all[sizeof(Mask) / 8], found = 0;
      std::memcpy(all, &a.v, sizeof all);
      for (auto const x : all) found |= x;
      return found != 0;
    }
  };

  Parts v;

  Pack() = default;
  // Copied register by register: left to themselves compilers copy a struct in 16-byte pieces,
  // whose reading back as a whole register has to wait.
  Pack(Pack const& o) { *this = o; }
  Pack& operator=(Pack const& o) {
    v.a = o.v.a;
    if constexpr (parts > 1) v.b = o.v.b;
    if constexpr (parts > 2) {
      v.c = o.v.c;
      v.d = o.v.d;
    }
    return *this;
  }
  ~Pack() = default;
  Pack(T x) {  // NOLINT(google-explicit-constructor): a constant is one
    v.a = x - Part{};
    if constexpr (parts > 1) v.b = v.a;
    if constexpr (parts > 2) v.c = v.d = v.a;
  }
  /// Doubles are the constants of formulas, also among floats.
  template <class X>
  requires(std::is_arithmetic_v<X> && !std::is_same_v<X, T>) Pack(X x)  // NOLINT
      : Pack(static_cast<T>(x)) {}

  /// The N numbers from `x` on, at any address.
  static Pack load(T const* x) {
    Pack r;
    std::memcpy(&r.v.a, x, part_bytes);
    if constexpr (parts > 1) std::memcpy(&r.v.b, x + N / parts, part_bytes);
    if constexpr (parts > 2) {
      std::memcpy(&r.v.c, x + 2 * (N / parts), part_bytes);
      std::memcpy(&r.v.d, x + 3 * (N / parts), part_bytes);
    }
    return r;
  }
  static Pack of(T x0, T x1, T x2, T x3) {
    static_assert(N == 4 && parts < 4);
    Pack r;
    if constexpr (parts == 1) {
      r.v.a = Part{x0, x1, x2, x3};
    } else {
      r.v.a = Part{x0, x1};
      r.v.b = Part{x2, x3};
    }
    return r;
  }
  void store(T* x) const {
    std::memcpy(x, &v.a, part_bytes);
    if constexpr (parts > 1) std::memcpy(x + N / parts, &v.b, part_bytes);
    if constexpr (parts > 2) {
      std::memcpy(x + 2 * (N / parts), &v.c, part_bytes);
      std::memcpy(x + 3 * (N / parts), &v.d, part_bytes);
    }
  }
  [[nodiscard]] T lane(std::size_t k) const {
    T x;
    std::memcpy(&x, reinterpret_cast<char const*>(&v) + k * sizeof(T), sizeof(T));
    return x;
  }
  void set(std::size_t k, T x) {
    std::memcpy(reinterpret_cast<char*>(&v) + k * sizeof(T), &x, sizeof(T));
  }

#define CURE_PACK_OPERATOR(op)                                          \
  friend Pack operator op(Pack const& a, Pack const& b) {               \
    return by_parts<Pack>([](Part x, Part y) { return x op y; }, a, b); \
  }                                                                     \
  Pack& operator op##=(Pack const& b) { return *this = *this op b; }
  CURE_PACK_OPERATOR(+)
  CURE_PACK_OPERATOR(-)
  CURE_PACK_OPERATOR(*)
  CURE_PACK_OPERATOR(/)
#undef CURE_PACK_OPERATOR
#define CURE_PACK_COMPARISON(op)                                        \
  friend Mask operator op(Pack const& a, Pack const& b) {               \
    return by_parts<Mask>([](Part x, Part y) { return x op y; }, a, b); \
  }
  CURE_PACK_COMPARISON(<)
  CURE_PACK_COMPARISON(>)
  CURE_PACK_COMPARISON(<=)
  CURE_PACK_COMPARISON(>=)
#undef CURE_PACK_COMPARISON
  friend Pack operator-(Pack const& a) {
    return by_parts<Pack>([](Part x) { return -x; }, a);
  }

  friend Pack select(Mask const& m, Pack const& a, Pack const& b) {
    return by_parts<Pack>([](WholePart w, Part x, Part y) { return w ? x : y; }, m, a, b);
  }
  friend Pack abs(Pack const& a) {
    constexpr Whole magnitude = static_cast<Whole>(~(Whole(1) << (8 * sizeof(T) - 1)));
    return by_parts<Pack>([](Part x) { return number(bits(x) & magnitude); }, a);
  }
  friend Pack max(Pack const& a, Pack const& b) {
    return by_parts<Pack>([](Part x, Part y) { return x > y ? x : y; }, a, b);
  }
  friend Pack min(Pack const& a, Pack const& b) {
    return by_parts<Pack>([](Part x, Part y) { return x < y ? x : y; }, a, b);
  }
  friend Pack exp(Pack const& a) {
    return by_parts<Pack>([](Part x) { return exp_part(x); }, a);
  }
  friend Pack log(Pack const& a) {
    return by_parts<Pack>([](Part x) { return log_part(x); }, a);
  }
  /// x^p for x > 0.
  friend Pack pow(Pack const& x, Pack const& p) { return exp(p * log(x)); }

 private:
  static constexpr bool wide = sizeof(T) == 8;
  static constexpr int mantissa_bits = wide ? 52 : 23;
  static constexpr Whole bias = wide ? 1023 : 127;
  static WholePart bits(Part x) { return reinterpret_cast<WholePart>(x); }
  static Part number(WholePart x) { return reinterpret_cast<Part>(x); }

  static Part exp_part(Part x) {
    constexpr T limit = wide ? T(708.0) : T(87.0);
    x = x < -limit ? Part{} - limit : x;
    x = x > limit ? Part{} + limit : x;
    // Adding 1.5 * 2^mantissa_bits leaves the nearest whole number in the low bits.
    constexpr T shift = wide ? T(6755399441055744.0) : T(12582912.0);
    Part const shifted = x * T(1.4426950408889634) + shift;
    Part const n = shifted - shift;
    constexpr T ln2_high = wide ? T(0.693147180369123816490) : T(0.693359375);
    constexpr T ln2_low = wide ? T(1.90821492927058770002e-10) : T(-2.12194440e-4);
    Part const r = (x - n * ln2_high) - n * ln2_low;
    Part p;  // (e^r - 1 - r)/r^2
    if constexpr (wide) {
      Part const r2 = r * r, r4 = r2 * r2;
      Part const c01 = T(0.5000000000000001) + T(0.16666666666666669) * r;
      Part const c23 = T(0.04166666666662413) + T(0.008333333333330062) * r;
      Part const c45 = T(0.0013888888917213717) + T(0.00019841269863053618) * r;
      Part const c67 = T(2.4801521295954376e-05) + T(2.7557268459997064e-06) * r;
      Part const c89 = T(2.7620088445409746e-07) + T(2.510038549551032e-08) * r;
      p = (c01 + c23 * r2) + ((c45 + c67 * r2) + c89 * r4) * r4;
    } else {
      p = r * T(1.0 / 5040.0) + T(1.0 / 720.0);
      p = p * r + T(1.0 / 120.0);
      p = p * r + T(1.0 / 24.0);
      p = p * r + T(1.0 / 6.0);
      p = p * r + T(0.5);
    }
    p = p * (r * r) + r + T(1.0);
    WholePart const power = (bits(shifted) << mantissa_bits) + bits(Part{} + T(1.0));
    return p * number(power);
  }

  /// ln x of normal, positive x.
  static Part log_part(Part x) {
    // m in [sqrt(1/2), sqrt(2)): the exponent is taken after moving the split point.
    constexpr T root_half = T(0.70710678118654752440);
    Part const split = Part{} + root_half;
    constexpr Whole one_exponent = Whole(1) << mantissa_bits;
    WholePart const root_mantissa = bits(split) & (one_exponent - 1);
    // Kept above zero, the exponent needs neither signed shifts nor conversions of wide integers,
    // which older instruction sets lack.
    BitsPart const n = reinterpret_cast<BitsPart>(bits(x) - root_mantissa) >> mantissa_bits;
    WholePart const exponent = reinterpret_cast<WholePart>(n);
    Part const m = number(bits(x) - (exponent << mantissa_bits) + (bias - 1) * one_exponent);
    Part const z = (m - T(1.0)) / (m + T(1.0));
    Part const z2 = z * z;
    Part s;  // (ln m - 2 z)/z^3
    if constexpr (wide) {
      Part const z4 = z2 * z2;
      s = (T(0.18182889786191042) + T(0.15331699633543858) * z2) + T(0.14616721179861816) * z4;
      s = (T(0.28571428626031065) + T(0.2222221112572281) * z2) + s * z4;
      s = (T(0.666666666666667) + T(0.3999999999989938) * z2) + s * z4;
    } else {
      s = z2 * T(2.0 / 9.0) + T(2.0 / 7.0);
      s = s * z2 + T(2.0 / 5.0);
      s = s * z2 + T(2.0 / 3.0);
    }
    // The low bits of 2^mantissa_bits count ones.
    constexpr T count = T(one_exponent);
    Part const whole = number(exponent | bits(Part{} + count)) - (count + T(bias - 1));
    return whole * T(0.69314718055994530942) + (s * z2 * z + T(2.0) * z);
  }
};

/// Lane by lane.
template <class To, class T, std::size_t N, std::size_t Bytes>
Pack<To, N, Bytes> convert(Pack<T, N, Bytes> const& a) {
  // Whole-width vectors on both sides let the compiler choose the conversion instruction.
  typedef T From __attribute__((vector_size(N * sizeof(T))));
  typedef To Into __attribute__((vector_size(N * sizeof(To))));
  From from;
  std::memcpy(&from, &a.v, sizeof from);
  Into const into = __builtin_convertvector(from, Into);
  Pack<To, N, Bytes> r;
  std::memcpy(&r.v, &into, sizeof into);
  return r;
}

}  // namespace cure
