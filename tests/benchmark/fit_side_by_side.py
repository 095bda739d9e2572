"""A whole fit, timed; and the same residuals written in NumPy and SciPy with finite differences, in the same run.

    .venv/bin/python tests/benchmark/fit_side_by_side.py

Three laws on six runs of 2000 points, 32 starts each, on the threads there are. Then one Jacobian of the
Kamal-Sourour residuals both ways: the peer solves each run with solve_ivp (LSODA) on a Python right-hand side, applies
the same baseline and normalisation with NumPy, and takes forward differences, as SciPy's least_squares would by
default. Both are checked to agree before either is timed.
"""

import sys
import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from dsc_synthetic import R, ramp, record, truth  # noqa: E402
from libcure import fitting  # noqa: E402
from libcure.fitting.engine import COUNTS_AS, KNOWN_TO, build  # noqa: E402

RATES = (0.5, 1, 2, 5, 10, 20)


def peer_residuals(runs, T_ref, x):
    """The residuals of residuals.hpp for Kamal-Sourour, in NumPy and SciPy."""
    ln_k1, E1, ln_k2, E2, m, n = x

    def rate(T, a):
        shift = (1 / T - 1 / T_ref) / R
        left = np.maximum(1 - a, 0.0)
        return (np.exp(ln_k1 - E1 * shift) + np.exp(ln_k2 - E2 * shift) * np.maximum(a, 0.0) ** m) * left**n

    out = []
    for run in runs:
        slope, start = np.polyfit(run.time, run.temperature, 1)
        path = solve_ivp(lambda t, y, slope=slope, start=start: rate(start + slope * t, y), (run.time[0], run.t[-1]),
                         [0.0], method="LSODA", t_eval=run.t, rtol=1e-6, atol=1e-9)
        r = rate(start + slope * run.t, path.y[0])
        r = r - run.basis @ (run.functionals @ r)
        steps = np.diff(run.t)
        alpha = np.concatenate([[0.0], np.cumsum(0.5 * steps * (r[1:] + r[:-1]))])
        w = np.sqrt(COUNTS_AS / len(run.t)) / KNOWN_TO
        out += [w * (r / alpha[-1] - run.rate) / run.rate.max(), w * (alpha / alpha[-1] - run.alpha)]
    return np.concatenate(out)


def peer_jacobian(runs, T_ref, x):
    r = peer_residuals(runs, T_ref, x)
    J = np.empty((len(r), len(x)))
    for k in range(len(x)):
        h = 1e-5 * max(abs(x[k]), 1.0)
        moved = np.array(x)
        moved[k] += h
        J[:, k] = (peer_residuals(runs, T_ref, moved) - r) / h
    return r, J


def best_of(function, times):
    found = []
    for _ in range(times):
        start, cpu = time.perf_counter(), time.process_time()
        function()
        found.append((time.perf_counter() - start, time.process_time() - cpu))
    return min(found)


def main(points=2000, starts=32):
    random = np.random.default_rng(1)
    runs = [fitting.analyse(record(ramp("kamal-sourour", beta, points), 0.01, random), f"{beta}",
                            heating_rate=beta / 60, baseline="linear") for beta in RATES]
    E = fitting.model_free(runs).E
    options = fitting.Options(starts=starts)

    def whole():
        return [fitting.fit_law(fitting.FitLaw(law), runs, E=E, options=options)
                for law in ("nth-order", "autocatalytic", "kamal-sourour")]

    wall, cpu = best_of(whole, 1)
    print(f"whole fit, 3 laws x 6 runs x {points} points, {starts} starts: {wall:.2f} s wall, {cpu:.2f} s processor time")
    fit = fitting.fit_law(fitting.FitLaw("kamal-sourour"), runs, E=E, options=fitting.Options(starts=2))
    problem = build(fit.law, fit.T_ref, fit.runs, [], options)
    x = truth("kamal-sourour", fit)
    r, J = problem.evaluate(x)
    r_peer, J_peer = peer_jacobian(fit.runs, fit.T_ref, x)
    exact, _ = build(fit.law, fit.T_ref, fit.runs, [], options, tolerance=1e-10).evaluate(x)
    w = np.sqrt(COUNTS_AS / len(runs[0].t)) / KNOWN_TO
    print(f"error of the residuals, over the peak: {np.abs(r - exact).max() / w:.1e}, NumPy and SciPy "
          f"{np.abs(r_peer - exact).max() / w:.1e}")
    scale = np.abs(J).max(axis=0)
    assert np.abs(r - r_peer).max() < 1e-3 * np.abs(r).max(), np.abs(r - r_peer).max()
    assert np.all(np.abs(J - J_peer).max(axis=0) < 0.02 * scale), np.abs(J - J_peer).max(axis=0) / scale
    (ours, ours_cpu), (peer, peer_cpu) = best_of(lambda: problem.compressed(x), 7), best_of(
        lambda: peer_jacobian(fit.runs, fit.T_ref, x), 2)
    print(f"residuals and Jacobian of 6 runs, 6 constants: {1e3 * ours:.1f} ms ({1e3 * ours_cpu:.1f} ms processor), "
          f"NumPy and SciPy {1e3 * peer:.0f} ms ({1e3 * peer_cpu:.0f} ms): {peer_cpu / ours_cpu:.0f} times faster")
    return wall, cpu, peer_cpu / ours_cpu


if __name__ == "__main__":
    main()
