#pragma once
/// Refuses a build whose floating-point numbers have no NaN or infinity. A time that does not come
/// is NaN or infinite here, and every check on input relies on comparisons with NaN being false:
/// with such options a resin that has turned to glass would be reported as released.
/// Every header of the library reaches this one (held by tests/cpp/include_levels.py).

#if defined(__FAST_MATH__)
#error "libcure needs IEEE arithmetic: compile without -ffast-math and -Ofast"
#elif defined(__FINITE_MATH_ONLY__) && __FINITE_MATH_ONLY__
#error "libcure needs NaN and infinity: compile without -ffinite-math-only"
#endif
