#ifndef LIBCURE_BENCHMARK_PEER_H
#define LIBCURE_BENCHMARK_PEER_H
/* What the peers of the work-precision benchmark share, in C so that each can be written in its own
 * language: the equations as plain numbers, a clock, and one form of answer.
 *
 *   C_i dT_i/dt = G_{i-1} (T_{i-1} - T_i) + G_i (T_{i+1} - T_i) + S_j dalpha_j/dt
 *                 (+ Q - G T at the two surfaces),          dalpha_j/dt = f(T_i, alpha_j)
 *   f = (k1 + k2 alpha^m) (1 - alpha)^n / (1 + exp(C (alpha - alpha_c0 - alpha_cT T))),
 *   k = k_ref exp(-E_R (1/T - 1/T_ref))
 *
 * A problem file is written by wall_problem.cpp, numbers in hexadecimal, so that every solver has
 * the same coefficients to the last bit: lines of name, count, values, in the order below. */

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

typedef struct {
  int cells, first, reacting;   /* the curing layer is cells first .. first + reacting - 1 */
  double *capacity;             /* [J/K] */
  double *conductance;          /* between neighbours, cells - 1 [W/K] */
  double *source;               /* heat of full cure of each reacting cell [J] */
  double inner[2], outer[2];    /* G [W/K] and Q [W] of the surfaces */
  double k1[3], k2[3];          /* k_ref [1/s], E/R [K], 1/T_ref [1/K] */
  double orders[2];             /* m, n [-] */
  double diffusion[3];          /* C [-], alpha_c0 [-], alpha_cT [1/K]; C = 0: none */
  double *start;                /* temperatures [K], then degrees of cure [-] */
  int samples;
  double *times;                /* at which an answer is asked for, the last ends the run [s] */
  double release[5];            /* alpha_min, margin of Tg [K], Tg0 [K], Tg_inf [K], lambda */
} Problem;

static inline void peer_fail(char const *what, char const *which) {
  fprintf(stderr, "%s: %s\n", what, which);
  exit(2);
}

static inline double *peer_numbers(FILE *file, char const *name, int *count, int expected) {
  char found[32];
  if (fscanf(file, "%31s %d", found, count) != 2 || strcmp(found, name) != 0 || *count < 0) {
    peer_fail("problem file without", name);
  }
  if (expected >= 0 && *count != expected) peer_fail("problem file with a wrong count of", name);
  double *values = (double *)malloc(sizeof(double) * (size_t)(*count > 0 ? *count : 1));
  if (values == NULL) peer_fail("no memory for", name);
  for (int i = 0; i < *count; ++i) {
    if (fscanf(file, "%lf", &values[i]) != 1) peer_fail("problem file cut short at", name);
  }
  return values;
}

static inline void peer_few(FILE *file, char const *name, double *into, int expected) {
  int count = 0;
  double *values = peer_numbers(file, name, &count, expected);
  memcpy(into, values, sizeof(double) * (size_t)expected);
  free(values);
}

/* Reads a problem; ends the program with a message when it cannot. */
static inline Problem peer_read(char const *path) {
  FILE *file = fopen(path, "r");
  if (file == NULL) peer_fail(path, strerror(errno));
  Problem p;
  double layout[3];
  int count = 0;
  peer_few(file, "layout", layout, 3);
  p.cells = (int)layout[0];
  p.first = (int)layout[1];
  p.reacting = (int)layout[2];
  p.capacity = peer_numbers(file, "capacity", &count, p.cells);
  p.conductance = peer_numbers(file, "conductance", &count, p.cells - 1);
  p.source = peer_numbers(file, "source", &count, p.reacting);
  peer_few(file, "inner", p.inner, 2);
  peer_few(file, "outer", p.outer, 2);
  peer_few(file, "k1", p.k1, 3);
  peer_few(file, "k2", p.k2, 3);
  peer_few(file, "orders", p.orders, 2);
  peer_few(file, "diffusion", p.diffusion, 3);
  p.start = peer_numbers(file, "start", &count, p.cells + p.reacting);
  p.times = peer_numbers(file, "times", &p.samples, -1);
  if (p.samples < 1) peer_fail("problem file without", "times");
  peer_few(file, "release", p.release, 5);
  fclose(file);
  return p;
}

static inline void peer_free(Problem *p) {
  free(p->capacity);
  free(p->conductance);
  free(p->source);
  free(p->start);
  free(p->times);
}

typedef struct {
  double value, dT, dalpha; /* [1/s], [1/(s K)], [1/s] */
} Rate;

/* Exponentials are shared between the rate and its derivatives, and between the two rate constants
 * when they have one activation energy; a first power is no call of pow. Without `slopes` the
 * derivatives are zero. */
static inline Rate peer_rate(Problem const *p, double T, double alpha, int slopes) {
  double const inverse_T = 1.0 / T;
  int const shared = p->k1[1] == p->k2[1] && p->k1[2] == p->k2[2];
  double const e2 = exp(-p->k2[1] * (inverse_T - p->k2[2]));
  double const e1 = shared ? e2 : exp(-p->k1[1] * (inverse_T - p->k1[2]));
  double const k1 = p->k1[0] * e1, k2 = p->k2[0] * e2;
  double const m = p->orders[0], n = p->orders[1], left = 1.0 - alpha;
  double const power = alpha > 0.0 ? (m == 1.0 ? alpha : pow(alpha, m)) : 0.0;
  double const order = left > 0.0 ? pow(left, n) : 0.0;
  double factor = 1.0, slope = 0.0;
  if (p->diffusion[0] != 0.0) {
    double const x = p->diffusion[0] * (alpha - p->diffusion[1] - p->diffusion[2] * T);
    double const e = exp(x > 0.0 ? -x : x);
    factor = (x > 0.0 ? e : 1.0) / (1.0 + e);
    slope = -p->diffusion[0] * e / ((1.0 + e) * (1.0 + e));
  }
  double const k = k1 + k2 * power;
  Rate r = {k * order * factor, 0.0, 0.0};
  if (slopes) {
    double const dk = (k1 * p->k1[1] + k2 * power * p->k2[1]) * inverse_T * inverse_T;
    double const dpower = alpha > 0.0 ? (m == 1.0 ? 1.0 : m * power / alpha) : 0.0;
    double const dorder = left > 0.0 ? -n * order / left : 0.0;
    r.dT = order * (dk * factor - k * slope * p->diffusion[2]);
    r.dalpha = k2 * dpower * order * factor + k * dorder * factor + k * order * slope;
  }
  return r;
}

/* Numbers in one row of an answer: temperatures, then degrees of cure. */
static inline size_t peer_width(Problem const *p) { return (size_t)(p->cells + p->reacting); }

/* Processor time of this process [s]: other programs on the machine do not count. */
static inline double peer_clock(void) {
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

typedef struct {
  double best; /* shortest run so far [s] */
  double spent;
  int runs;
} Stopwatch;

/* Whether one more run is to be measured: at least three, and until `budget` seconds are used. */
static inline int peer_again(Stopwatch const *w, double budget) {
  return w->runs < 3 || w->spent < budget;
}

static inline void peer_lap(Stopwatch *w, double seconds) {
  if (w->runs == 0 || seconds < w->best) w->best = seconds;
  w->spent += seconds;
  ++w->runs;
}

/* The answer: states at the asked times as raw doubles in a file, and one line of JSON. `cases` is
 * how many cases one run solves. */
static inline void peer_answer(Problem const *p, char const *path, double const *states,
                               Stopwatch const *w, long steps, long rejections, long evaluations,
                               long cases) {
  FILE *file = fopen(path, "wb");
  if (file == NULL) peer_fail(path, strerror(errno));
  size_t const count = peer_width(p) * (size_t)p->samples;
  if (fwrite(states, sizeof(double), count, file) != count || fclose(file) != 0) {
    peer_fail(path, "could not be written");
  }
  printf("{\"seconds\": %.9g, \"runs\": %d, \"steps\": %ld, \"rejections\": %ld, "
         "\"evaluations\": %ld, \"cases\": %ld}\n",
         w->best / (double)cases, w->runs, steps, rejections, evaluations, cases);
}

#endif
