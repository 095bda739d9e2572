/* The wall by SUNDIALS CVODE: BDF, banded direct solver, analytic Jacobian. T and alpha of a curing
 * cell stand side by side, so that the band is two wide on either side.
 *
 *   peer_cvode PROBLEM OUTPUT SECONDS RTOL ATOL_T ATOL_ALPHA
 */
#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#include "peer.h"

typedef struct {
  Problem p;
  double *inverse_capacity, *temperature, *rate;
} System;

/* Index of T of cell i. */
static inline int at(System const *s, int i) {
  int const j = i - s->p.first;
  return j < 0 ? i : (j < s->p.reacting ? s->p.first + 2 * j : i + s->p.reacting);
}

static int right_side(realtype t, N_Vector y_vector, N_Vector f_vector, void *data) {
  (void)t;
  System *s = (System *)data;
  Problem const *p = &s->p;
  double const *y = N_VGetArrayPointer(y_vector);
  double *f = N_VGetArrayPointer(f_vector);
  int const n = p->cells, first = p->first, end = first + p->reacting;
  double *T = s->temperature;
  for (int i = 0; i < first; ++i) T[i] = y[i];
  for (int j = 0; j < p->reacting; ++j) {
    double const T_j = y[first + 2 * j];
    T[first + j] = T_j;
    double const rate = peer_rate(p, T_j, y[first + 2 * j + 1], 0).value;
    s->rate[j] = rate;
    f[first + 2 * j + 1] = rate;
  }
  for (int i = end; i < n; ++i) T[i] = y[i + p->reacting];
  double flow = p->inner[1] - p->inner[0] * T[0];
  for (int i = 0; i < n; ++i) {
    double const next =
        i + 1 < n ? p->conductance[i] * (T[i] - T[i + 1]) : p->outer[0] * T[i] - p->outer[1];
    double heat = flow - next;
    if (i >= first && i < end) heat += p->source[i - first] * s->rate[i - first];
    f[at(s, i)] = heat * s->inverse_capacity[i];
    flow = next;
  }
  return 0;
}

static int jacobian(realtype t, N_Vector y_vector, N_Vector f_vector, SUNMatrix J, void *data,
                    N_Vector a, N_Vector b, N_Vector c) {
  (void)t, (void)f_vector, (void)a, (void)b, (void)c;
  System const *s = (System const *)data;
  Problem const *p = &s->p;
  double const *y = N_VGetArrayPointer(y_vector);
  int const n = p->cells;
  for (int i = 0; i < n; ++i) {
    int const k = at(s, i);
    double const left = i > 0 ? p->conductance[i - 1] : p->inner[0];
    double const right = i + 1 < n ? p->conductance[i] : p->outer[0];
    SM_ELEMENT_B(J, k, k) = -(left + right) * s->inverse_capacity[i];
    if (i > 0) SM_ELEMENT_B(J, k, at(s, i - 1)) = left * s->inverse_capacity[i];
    if (i + 1 < n) SM_ELEMENT_B(J, k, at(s, i + 1)) = right * s->inverse_capacity[i];
    int const j = i - p->first;
    if (j >= 0 && j < p->reacting) {
      Rate const r = peer_rate(p, y[k], y[k + 1], 1);
      double const warms = p->source[j] * s->inverse_capacity[i];
      SM_ELEMENT_B(J, k, k) += warms * r.dT;
      SM_ELEMENT_B(J, k, k + 1) = warms * r.dalpha;
      SM_ELEMENT_B(J, k + 1, k) = r.dT;
      SM_ELEMENT_B(J, k + 1, k + 1) = r.dalpha;
    }
  }
  return 0;
}

static void check(int flag, char const *call) {
  if (flag < 0) {
    fprintf(stderr, "%s failed with %d\n", call, flag);
    exit(1);
  }
}

static void unpack(System const *s, double const *y, double *row) {
  Problem const *p = &s->p;
  for (int i = 0; i < p->cells; ++i) row[i] = y[at(s, i)];
  for (int j = 0; j < p->reacting; ++j) row[p->cells + j] = y[at(s, p->first + j) + 1];
}

static void pack(System const *s, double const *row, double *y) {
  Problem const *p = &s->p;
  for (int i = 0; i < p->cells; ++i) y[at(s, i)] = row[i];
  for (int j = 0; j < p->reacting; ++j) y[at(s, p->first + j) + 1] = row[p->cells + j];
}

int main(int argc, char **argv) {
  if (argc != 7) peer_fail("usage", "peer_cvode PROBLEM OUTPUT SECONDS RTOL ATOL_T ATOL_ALPHA");
  System s;
  s.p = peer_read(argv[1]);
  Problem const *p = &s.p;
  double const budget = strtod(argv[3], NULL), rtol = strtod(argv[4], NULL);
  double const atol_T = strtod(argv[5], NULL), atol_alpha = strtod(argv[6], NULL);
  size_t const bytes = sizeof(double) * (size_t)p->cells;
  s.inverse_capacity = (double *)malloc(bytes);
  s.temperature = (double *)malloc(bytes);
  s.rate = (double *)malloc(bytes);
  size_t const width = peer_width(p);
  double *states = (double *)malloc(sizeof(double) * width * (size_t)p->samples);
  if (!s.inverse_capacity || !s.temperature || !s.rate || !states) peer_fail("no memory", "");
  for (int i = 0; i < p->cells; ++i) s.inverse_capacity[i] = 1.0 / p->capacity[i];

  SUNContext context;
  check(SUNContext_Create(NULL, &context), "SUNContext_Create");
  sunindextype const size = (sunindextype)width;
  N_Vector y = N_VNew_Serial(size, context), tolerance = N_VNew_Serial(size, context);
  double *start = (double *)malloc(sizeof(double) * width);
  for (size_t i = 0; i < width; ++i) start[i] = i < (size_t)p->cells ? atol_T : atol_alpha;
  pack(&s, start, N_VGetArrayPointer(tolerance));
  pack(&s, p->start, N_VGetArrayPointer(y));
  memcpy(start, N_VGetArrayPointer(y), sizeof(double) * width);

  void *cvode = CVodeCreate(CV_BDF, context);
  check(CVodeInit(cvode, right_side, 0.0, y), "CVodeInit");
  check(CVodeSVtolerances(cvode, rtol, tolerance), "CVodeSVtolerances");
  check(CVodeSetUserData(cvode, &s), "CVodeSetUserData");
  check(CVodeSetMaxNumSteps(cvode, 10000000), "CVodeSetMaxNumSteps");
  SUNMatrix A = SUNBandMatrix(size, 2, 2, context);
  SUNLinearSolver linear = SUNLinSol_Band(y, A, context);
  check(CVodeSetLinearSolver(cvode, linear, A), "CVodeSetLinearSolver");
  check(CVodeSetJacFn(cvode, jacobian), "CVodeSetJacFn");

  Stopwatch watch = {0.0, 0.0, 0};
  while (peer_again(&watch, budget)) {
    double const begin = peer_clock();
    memcpy(N_VGetArrayPointer(y), start, sizeof(double) * width);
    check(CVodeReInit(cvode, 0.0, y), "CVodeReInit");
    check(CVodeSetStopTime(cvode, p->times[p->samples - 1]), "CVodeSetStopTime");
    for (int i = 0; i < p->samples; ++i) {
      realtype reached;
      check(CVode(cvode, p->times[i], y, &reached, CV_NORMAL), "CVode");
      unpack(&s, N_VGetArrayPointer(y), states + width * (size_t)i);
    }
    peer_lap(&watch, peer_clock() - begin);
  }
  long steps = 0, failures = 0, evaluations = 0;
  CVodeGetNumSteps(cvode, &steps);
  CVodeGetNumErrTestFails(cvode, &failures);
  CVodeGetNumRhsEvals(cvode, &evaluations);
  peer_answer(p, argv[2], states, &watch, steps, failures, evaluations, 1);

  CVodeFree(&cvode);
  SUNLinSolFree(linear);
  SUNMatDestroy(A);
  N_VDestroy(y);
  N_VDestroy(tolerance);
  SUNContext_Free(&context);
  free(start);
  free(states);
  free(s.inverse_capacity);
  free(s.temperature);
  free(s.rate);
  peer_free(&s.p);
  return 0;
}
