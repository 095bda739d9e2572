#pragma once
/// Several numbers side by side, one a case, that move through a formula together: the third scalar
/// that formulas are written for, beside double and Dual. Built on the vector types of GCC and
/// Clang; `Bytes` is the width of the machine's vector register and keeps code for different
/// machines apart in the linker's eyes.
///
/// exp and log follow the usual reduction (x = n ln 2 + r; x = 2^n m) with Taylor and atanh series,
/// as in M. Abramowitz, I.A. Stegun, "Handbook of Mathematical Functions" (1964), 4.2.1 and 4.1.27.
/// They are written here because no library offers them on these vectors with names that stay
/// apart. Relative error below 3e-7 in float, 4e-16 in double.

#include <cstddef>
#include <cstdint>
#include <cstring>
#include <type_traits>

namespace cure {

template <class T, std::size_t N, std::size_t Bytes>
struct Pack {
  using value_type = T;
  using Whole = std::conditional_t<sizeof(T) == 8, std::int64_t, std::int32_t>;
  static constexpr std::size_t size = N;
  static constexpr std::size_t part_bytes = N * sizeof(T) < Bytes ? N * sizeof(T) : Bytes;
  static constexpr std::size_t parts = N * sizeof(T) / part_bytes;
  typedef T Part __attribute__((vector_size(part_bytes)));
  typedef Whole WholePart __attribute__((vector_size(part_bytes)));

  /// All bits of a lane set where a comparison holds.
  struct Mask {
    WholePart v[parts];
    friend Mask operator&(Mask const& a, Mask const& b) {
      Mask r;
      for (std::size_t i = 0; i < parts; ++i) r.v[i] = a.v[i] & b.v[i];
      return r;
    }
    friend Mask operator|(Mask const& a, Mask const& b) {
      Mask r;
      for (std::size_t i = 0; i < parts; ++i) r.v[i] = a.v[i] | b.v[i];
      return r;
    }
    friend Mask operator!(Mask const& a) {
      Mask r;
      for (std::size_t i = 0; i < parts; ++i) r.v[i] = ~a.v[i];
      return r;
    }
    [[nodiscard]] bool lane(std::size_t k) const {
      constexpr std::size_t in_part = N / parts;
      return v[k / in_part][k % in_part] != 0;
    }
    friend bool any(Mask const& a) {
      WholePart all = a.v[0];
      for (std::size_t i = 1; i < parts; ++i) all |= a.v[i];
      Whole found = 0;
      for (std::size_t k = 0; k < N / parts; ++k) found |= all[k];
      return found != 0;
    }
  };

  Part v[parts];

  Pack() = default;
  Pack(T x) {  // NOLINT(google-explicit-constructor): a constant is one
    for (auto& p : v) p = x - Part{};
  }
  /// Doubles are the constants of formulas, also among floats.
  template <class X>
  requires(std::is_arithmetic_v<X> && !std::is_same_v<X, T>) Pack(X x)  // NOLINT
      : Pack(static_cast<T>(x)) {}

  static Pack load(T const* x) {
    Pack r;
    std::memcpy(&r.v, x, sizeof r.v);
    return r;
  }
  void store(T* x) const { std::memcpy(x, &v, sizeof v); }
  [[nodiscard]] T lane(std::size_t k) const {
    constexpr std::size_t in_part = N / parts;
    return v[k / in_part][k % in_part];
  }
  void set(std::size_t k, T x) {
    constexpr std::size_t in_part = N / parts;
    v[k / in_part][k % in_part] = x;
  }

#define CURE_PACK_OPERATOR(op)                                         \
  friend Pack operator op(Pack const& a, Pack const& b) {              \
    Pack r;                                                            \
    for (std::size_t i = 0; i < parts; ++i) r.v[i] = a.v[i] op b.v[i]; \
    return r;                                                          \
  }                                                                    \
  Pack& operator op##=(Pack const& b) { return *this = *this op b; }
  CURE_PACK_OPERATOR(+)
  CURE_PACK_OPERATOR(-)
  CURE_PACK_OPERATOR(*)
  CURE_PACK_OPERATOR(/)
#undef CURE_PACK_OPERATOR
#define CURE_PACK_COMPARISON(op)                                       \
  friend Mask operator op(Pack const& a, Pack const& b) {              \
    Mask r;                                                            \
    for (std::size_t i = 0; i < parts; ++i) r.v[i] = a.v[i] op b.v[i]; \
    return r;                                                          \
  }
  CURE_PACK_COMPARISON(<)
  CURE_PACK_COMPARISON(>)
  CURE_PACK_COMPARISON(<=)
  CURE_PACK_COMPARISON(>=)
#undef CURE_PACK_COMPARISON
  friend Pack operator-(Pack const& a) {
    Pack r;
    for (std::size_t i = 0; i < parts; ++i) r.v[i] = -a.v[i];
    return r;
  }

  friend Pack select(Mask const& m, Pack const& a, Pack const& b) {
    Pack r;
    for (std::size_t i = 0; i < parts; ++i) r.v[i] = m.v[i] ? a.v[i] : b.v[i];
    return r;
  }
  friend Pack abs(Pack const& a) {
    Pack r;
    for (std::size_t i = 0; i < parts; ++i) {
      constexpr Whole magnitude = static_cast<Whole>(~(Whole(1) << (8 * sizeof(T) - 1)));
      r.v[i] = (Part)((WholePart)a.v[i] & magnitude);
    }
    return r;
  }
  friend Pack max(Pack const& a, Pack const& b) { return select(a > b, a, b); }
  friend Pack min(Pack const& a, Pack const& b) { return select(a < b, a, b); }

  friend Pack exp(Pack const& x) {
    Pack r;
    for (std::size_t i = 0; i < parts; ++i) r.v[i] = exp_part(x.v[i]);
    return r;
  }
  friend Pack log(Pack const& x) {
    Pack r;
    for (std::size_t i = 0; i < parts; ++i) r.v[i] = log_part(x.v[i]);
    return r;
  }
  /// x^p for x > 0.
  friend Pack pow(Pack const& x, Pack const& p) { return exp(p * log(x)); }

 private:
  static constexpr bool wide = sizeof(T) == 8;
  static constexpr int mantissa_bits = wide ? 52 : 23;
  static constexpr Whole bias = wide ? 1023 : 127;

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
    Part p;
    if constexpr (wide) {
      p = r * T(1.0 / 6227020800.0) + T(1.0 / 479001600.0);
      p = p * r + T(1.0 / 39916800.0);
      p = p * r + T(1.0 / 3628800.0);
      p = p * r + T(1.0 / 362880.0);
      p = p * r + T(1.0 / 40320.0);
      p = p * r + T(1.0 / 5040.0);
      p = p * r + T(1.0 / 720.0);
    } else {
      p = r * T(1.0 / 5040.0) + T(1.0 / 720.0);
    }
    p = p * r + T(1.0 / 120.0);
    p = p * r + T(1.0 / 24.0);
    p = p * r + T(1.0 / 6.0);
    p = p * r + T(0.5);
    p = p * r * r + r + T(1.0);
    WholePart const power = ((WholePart)shifted << mantissa_bits) + (WholePart)(Part{} + T(1.0));
    return p * (Part)power;
  }

  /// ln x of normal, positive x.
  static Part log_part(Part x) {
    // m in [sqrt(1/2), sqrt(2)): the exponent is taken after moving the split point.
    constexpr T root_half = T(0.70710678118654752440);
    Part const split = Part{} + root_half;
    WholePart const bits = (WholePart)x - (WholePart)split;
    WholePart const n = bits >> mantissa_bits;
    Part const m = (Part)((WholePart)x - (n << mantissa_bits));
    Part const z = (m - T(1.0)) / (m + T(1.0));
    Part const z2 = z * z;
    Part s;
    if constexpr (wide) {
      s = z2 * T(2.0 / 21.0) + T(2.0 / 19.0);
      s = s * z2 + T(2.0 / 17.0);
      s = s * z2 + T(2.0 / 15.0);
      s = s * z2 + T(2.0 / 13.0);
      s = s * z2 + T(2.0 / 11.0);
      s = s * z2 + T(2.0 / 9.0);
      s = s * z2 + T(2.0 / 7.0);
    } else {
      s = z2 * T(2.0 / 9.0) + T(2.0 / 7.0);
    }
    s = s * z2 + T(2.0 / 5.0);
    s = s * z2 + T(2.0 / 3.0);
    Part const whole = __builtin_convertvector(n, Part);
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
