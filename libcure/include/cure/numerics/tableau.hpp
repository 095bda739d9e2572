#pragma once
/// Coefficients of the linearly implicit methods, in the transformed variables of rosenbrock.hpp.

#include <cstddef>

#include "cure/arithmetic.hpp"

namespace cure::numerics {

/// Coefficients of a method of up to 4 stages.
struct Tableau {
  double gamma;
  double A[4][3];  ///< A[i][j], j < i
  double C[4][3];  ///< C[i][j], j < i
  double m[4], e[4], a[4], g[4];
  bool evaluates[4];  ///< false: the stage uses the function value of the one before
  int order;          ///< of the step; the error estimate has one less
  std::size_t stages = 4;
};

/// RODAS3: order 3(2), L-stable, stiffly accurate, three function values a step
/// (A. Sandu et al., Atmos. Environ. 31, 3459, 1997).
inline constexpr Tableau rodas3{
    .gamma = 0.5,
    .A = {{0, 0, 0}, {0, 0, 0}, {2, 0, 0}, {2, 0, 1}},
    .C = {{0, 0, 0}, {4, 0, 0}, {1, -1, 0}, {1, -1, -8.0 / 3.0}},
    .m = {2, 0, 1, 1},
    .e = {0, 0, 0, 1},
    .a = {0, 0, 1, 1},
    .g = {0.5, 1.5, 0, 0},
    .evaluates = {true, false, true, true},
    .order = 3,
};

/// ROS34PW2: order 3(2), L-stable, stiffly accurate, and of order 3 for any approximate Jacobian
/// (J. Rang, L. Angermann, BIT Numer. Math. 45, 761, 2005; coefficients from memory, order
/// conditions checked in the tests). It keeps its order for diffusion with moving boundary values,
/// where RODAS3 falls to about 2.5 at practical steps, and is the default.
inline constexpr Tableau ros34pw2{
    .gamma = 4.3586652150845900e-01,
    .A = {{0, 0, 0},
          {2, 0, 0},
          {1.4192173174557652, -0.25923221167296978, 0},
          {4.1847604823191613, -0.28519201735549599, 2.2942803602790423}},
    .C = {{0, 0, 0},
          {-4.5885607205580836, 0, 0},
          {-4.1847604823191613, 0.28519201735549599, 0},
          {-6.3681792001283597, -6.7956209444668367, 2.8700986043310555}},
    .m = {4.184760482319162, -0.2851920173554956, 2.294280360279042, 1.0},
    .e = {0.2777499476479681, -1.4032398951759995, 1.772630127667551, 0.5},
    .a = {0, 0.871733043016918, 0.7315799577888524, 1.0},
    .g = {0.43586652150845900, -0.43586652150845900, -0.41333337623388650, 0},
    .evaluates = {true, true, true, true},
    .order = 3,
};

/// ROS3: order 3(2), L-stable, three stages and two function values a step, the same for the second
/// and the third (A. Sandu et al., Atmos. Environ. 31, 3459, 1997; coefficients from memory, order
/// conditions checked in the tests). At the accuracy of an ensemble it takes the steps of ros34pw2
/// for some six tenths of the work; with quickly moving boundary values its order falls to 2.
inline constexpr Tableau ros3{
    .gamma = 0.43586652150845899941601945119356,
    .A = {{0, 0, 0}, {1, 0, 0}, {1, 0, 0}, {0, 0, 0}},
    .C = {{0, 0, 0},
          {-1.0156171083877702091975600115545, 0, 0},
          {4.0759956452537699824805835358067, 9.2076794298330791242156818474003, 0},
          {0, 0, 0}},
    .m = {1.0, 6.1697947043828245592553615689730, -0.42772256543218573326238373806514, 0},
    .e = {0.5, -2.9079558716805469821718236208017, 0.22354069897811569627360909276199, 0},
    .a = {0, 0.43586652150845899941601945119356, 0.43586652150845899941601945119356, 0},
    .g = {0.43586652150845899941601945119356, 0.24291996454816804366592249683314,
          2.1851380027664058511513169485832, 0},
    .evaluates = {true, true, false, false},
    .order = 3,
    .stages = 3,
};

}  // namespace cure::numerics
