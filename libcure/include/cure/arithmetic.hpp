#pragma once
/// Refuses a build whose floating-point numbers have no NaN or infinity. A time that does not come
/// is NaN or infinite here, and every check on input relies on comparisons with NaN being false:
/// with such options a resin that has turned to glass would be reported as released.
/// And refuses a program whose units were compiled for different vector instructions: of an inline
/// function that several have, the linker keeps one, which may then run where its instructions are
/// not there; and Eigen's matrices are laid out by the width of the registers, so units for others
/// must not free them. Each object says what it was compiled for as the value of one symbol, which
/// linkers for ELF refuse to define twice with different values. For others, across shared
/// libraries, and where link-time optimisation joins the objects first, nothing is checked.
/// Compile all units alike, the compiled library among them: which instructions it runs itself is
/// chosen at run time.
/// Every header of the library reaches this one (held by tests/cpp/include_levels.py).

#if defined(__FAST_MATH__)
#error "libcure needs IEEE arithmetic: compile without -ffast-math and -Ofast"
#elif defined(__FINITE_MATH_ONLY__) && __FINITE_MATH_ONLY__
#error "libcure needs NaN and infinity: compile without -ffinite-math-only"
#endif

// The library's own sources for each set of instructions (CURE_INSTRUCTIONS) share no function.
#if defined(__ELF__) && defined(__x86_64__) && !defined(CURE_INSTRUCTIONS)
namespace cure {
/// Only so that its one symbol is in the object; nobody calls it. Outside a function, link-time
/// optimisation would take the symbol for a body that is there twice.
[[gnu::used, maybe_unused]] static void say_instructions() {
#if defined(__AVX512F__)
  constexpr int set = 4;
#elif defined(__AVX2__)
  constexpr int set = 3;
#elif defined(__AVX__)
  constexpr int set = 2;
#else
  constexpr int set = 1;
#endif
  __asm__(
      ".globl libcure_units_compiled_for_different_instructions\n\t"
      ".set libcure_units_compiled_for_different_instructions, %c0"
      :
      : "i"(set));
}
}  // namespace cure
#endif
