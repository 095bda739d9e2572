#pragma once
/// What one lane of the packed solver works on: one stage of one case, in plain arrays. Nothing
/// here or in kernel.hpp uses the standard library's own functions, so that code compiled for a
/// newer machine cannot end up, through the linker, in the hands of an older one.

#include <cstddef>

#include "cure/ensemble/law_slots.hpp"
#include "cure/heat/boundary.hpp"
#include "cure/kinetics/diffusion.hpp"
#include "cure/kinetics/rate_law.hpp"
#include "cure/process/tolerance.hpp"

// The kernel's loops are worth inlining whole, but not when sanitizers watch each access: that
// takes minutes to compile.
#ifdef __SANITIZE_ADDRESS__
#define CURE_INLINE_ALL
#else
#define CURE_INLINE_ALL __attribute__((flatten))
#endif

namespace cure::ensemble {

/// Constants of the rate law, the diffusion control and the measures below, single precision. Rate
/// constants are centred at one temperature, so that their exponents stay small.
struct RateConstants {
  enum Index : std::size_t {
    // Of these the first; their order is that of law_slots.hpp.
    law,
    inverse_T_ref = law + most_slots<kinetics::RateLaw<double>>,  ///< [1/K]
    diffusion,
    Tg0 = diffusion + most_slots<kinetics::DiffusionControl<double>>,  ///< [K]
    Tg_inf,                                                            ///< [K]
    lambda,                                                            ///< [-]
    alpha_gel,                                                         ///< [-]
    working_alpha,  ///< degree of cure that ends the working time; 0: the viscosity does [-]
    eta0,           ///< [Pa s]
    eta_E,          ///< [J/mol]
    eta_A,          ///< [-]
    eta_B,          ///< [-]
    log_eta_limit,  ///< ln of the limit over 1 Pa s
    alpha_min,      ///< to release [-]
    Tg_margin,      ///< to release [K]
    count
  };
  float value[count] = {};
};

/// Of the first and the last cell.
struct Loads {
  heat::SurfaceLoad in, out;
};

/// What a step may have brought; bits.
enum Happened : unsigned {
  worked_out = 1,  ///< some point reached the working limit
  gelled_first = 2,
  gelled_last = 4,
  became_releasable = 8,
  no_longer_releasable = 16,
};

/// A step of one lane at which something happened: resin cells at its two ends.
struct StepView {
  double t0 = 0.0, t1 = 0.0;  ///< [s]
  unsigned happened = 0;
  std::size_t cells = 0;                        ///< resin cells
  double const *T0 = nullptr, *T1 = nullptr;    ///< [K]
  double const *dT0 = nullptr, *dT1 = nullptr;  ///< [K/s]
  double const *a0 = nullptr, *a1 = nullptr;    ///< alpha [-]
  double const *da0 = nullptr, *da1 = nullptr;  ///< [1/s]
};

enum class LaneStatus { waiting, finished, step_vanished, too_many_steps };

struct LaneJob {
  double const* C = nullptr;      ///< capacity of each cell [J/K]
  double const* G = nullptr;      ///< conductance between cells i and i + 1 [W/K]
  double const* S = nullptr;      ///< heat of full cure of each resin cell [J]
  double* T = nullptr;            ///< in: initial, out: final [K]
  double* alpha = nullptr;        ///< the same, of resin cells [-]
  double const* stops = nullptr;  ///< corners of the boundaries, then the end, ascending [s]
  std::size_t stop_count = 0;
  RateConstants const* rate = nullptr;

  bool constant_loads = true;
  Loads loads;  ///< when constant
  void (*load)(void* context, double t, double T_first, double T_last, Loads& loads) = nullptr;
  void* load_context = nullptr;
  void (*event)(void* context, StepView const& step) = nullptr;
  void* context = nullptr;

  /// In: what is not to be watched for any more, and whether it may be released; out: what there
  /// was, and whether it may.
  unsigned happened = 0;
  double peak_T = 0.0;     ///< in and out: hottest resin so far [K]
  double peak_time = 0.0;  ///< when, on this stage's clock; kept when not beaten [s]
  std::size_t steps = 0, rejections = 0;
  LaneStatus status = LaneStatus::waiting;
};

/// What all jobs of one call have in common.
struct JobShape {
  std::size_t cells = 0;           ///< n
  std::size_t first_reacting = 0;  ///< first of the resin cells
  std::size_t reacting = 0;        ///< m, at least 1
  std::size_t law = 0;             ///< number in kinetics::RateLaw, of one that serves packs
  std::size_t form = 0;            ///< of the law, below packed_forms
  std::size_t diffusion = 0;       ///< number in kinetics::DiffusionControl
  process::Tolerance tolerance;
  std::size_t max_steps = 200000;
  bool (*stop)() = nullptr;  ///< asked every few milliseconds; true leaves jobs waiting
};

/// Cases that move through the solver together.
inline constexpr std::size_t lanes = 16;

/// Doubles that `solve` needs for its arrays.
constexpr std::size_t workspace_size(std::size_t cells, std::size_t reacting) {
  return lanes * (12 * cells + 15 * reacting) / 2 + 8 * reacting + 8;
}

/// Solves all jobs of one shape.
/// @param workspace of workspace_size() doubles
using Solve = void (*)(JobShape const& shape, LaneJob* jobs, std::size_t count, double* workspace);

}  // namespace cure::ensemble
