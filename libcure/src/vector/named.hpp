#pragma once
// A source in this folder is compiled once for each set of vector instructions: CMakeLists.txt sets
// CURE_INSTRUCTIONS to its name (baseline, avx2, avx512) and CURE_REGISTER_BYTES to the width of
// its registers, 0 where the machine's architecture has no such set.

#define CURE_JOINED_(a, b) a##b
#define CURE_JOINED(a, b) CURE_JOINED_(a, b)
/// `prefix` followed by the name of the set.
#define CURE_NAMED(prefix) CURE_JOINED(prefix, CURE_INSTRUCTIONS)
