#pragma once
/// Header-only, or compiled once. What is marked CURE_FUNCTION is inline, unless CURE_COMPILED says
/// that its body stands in the compiled library: then CURE_DEFINES(PART) is 1 only in the source
/// that holds the bodies of that part, and what only they need (CURE_INSIDE) is left out elsewhere.

#include "cure/arithmetic.hpp"

#ifdef CURE_COMPILED
#define CURE_FUNCTION
#define CURE_DEFINES(part) CURE_BUILDS_##part
#else
#define CURE_FUNCTION inline
#define CURE_DEFINES(part) 1
#endif

#if !defined(CURE_COMPILED) || defined(CURE_BUILDING)
#define CURE_INSIDE 1
#else
#define CURE_INSIDE 0
#endif
