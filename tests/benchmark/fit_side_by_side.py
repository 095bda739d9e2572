"""A whole fit, timed; and the same residuals written in NumPy and SciPy with finite differences, in the same run.

    .venv/bin/python tests/benchmark/fit_side_by_side.py

Three laws on six runs of 2000 points, 32 starts each, on the threads there are. Then one Jacobian of the
Kamal-Sourour residuals both ways: the peer solves each run with solve_ivp (LSODA) on a Python right-hand side, applies
the same baseline and normalisation with NumPy, and takes forward differences, as SciPy's least_squares would by
default. Both are checked to agree before either is timed. Ratios are of the least processor time of several tries: as the
fit is set, and with the core's tolerance loosened until its residuals are as far from the truth as the peer's.
"""

import sys
import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from dsc_synthetic import R, ramp, record, truth

from libcure import _core, fitting
from libcure.fitting.engine import SOLVE, build

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
        w = _core.fit.run_weight(len(run.t))
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
    return min(wall for wall, _ in found), min(cpu for _, cpu in found)


def error_of(problem, x, exact, w):
    """Greatest error of the residuals, over the peak."""
    return float(np.abs(problem.evaluate(x)[0] - exact).max() / w)


def main(points=2000, starts=32):
    random = np.random.default_rng(1)
    runs = [fitting.analyse(record(ramp("kamal-sourour", beta, points), 0.01, random), f"{beta}",
                            heating_rate=beta / 60, baseline="linear") for beta in RATES]
    E = fitting.isoconversional_analysis(runs).E
    options = fitting.Options(starts=starts)

    def whole():
        return [fitting.fit_law(fitting.FitLaw(law), runs, E=E, options=options)
                for law in ("nth-order", "autocatalytic", "kamal-sourour")]

    wall, cpu = best_of(whole, 3)
    print(f"whole fit, 3 laws x 6 runs x {points} points, {starts} starts, best of 3: {wall:.2f} s wall, {cpu:.2f} s "
          "processor time")
    start = time.perf_counter()
    fitting.analyse_without_law(runs)
    print(f"what is said without a law, once: {time.perf_counter() - start:.2f} s wall")
    # The peer knows no lags and nothing else of an instrument.
    exact = fitting.Options(starts=2, instrument=fitting.EXACT)
    fit = fitting.fit_law(fitting.FitLaw("kamal-sourour"), runs, E=E, options=exact)

    def core(tolerance):
        return build(fit.law, fit.T_ref, fit.runs, [], exact, tolerance=tolerance)

    problem = core(SOLVE)
    x = truth("kamal-sourour", fit)
    r, J = problem.evaluate(x)
    r_peer, J_peer = peer_jacobian(fit.runs, fit.T_ref, x)
    true, _ = core(1e-11).evaluate(x)
    w = _core.fit.run_weight(len(runs[0].t))
    peer_error = float(np.abs(r_peer - true).max() / w)
    equal = next(core(t) for t in SOLVE * np.logspace(1.5, -1.0, 26) if error_of(core(t), x, true, w) <= peer_error)
    scale = np.abs(J).max(axis=0)
    assert np.abs(r - r_peer).max() < 1e-3 * np.abs(r).max(), np.abs(r - r_peer).max()
    assert np.all(np.abs(J - J_peer).max(axis=0) < 0.02 * scale), np.abs(J - J_peer).max(axis=0) / scale
    (peer, peer_cpu) = best_of(lambda: peer_jacobian(fit.runs, fit.T_ref, x), 3)
    print(f"residuals and Jacobian of 6 runs, 6 constants; NumPy and SciPy: {1e3 * peer:.0f} ms ({1e3 * peer_cpu:.0f} ms "
          f"processor), error {peer_error:.1e} of the peak")
    ratios = []
    for name, one in (("as the fit is set", problem), ("at the same error", equal)):
        ours, ours_cpu = best_of(lambda one=one: one.compressed(x), 15)
        ratios.append(peer_cpu / ours_cpu)
        print(f"  {name}: {1e3 * ours:.2f} ms ({1e3 * ours_cpu:.2f} ms processor), error {error_of(one, x, true, w):.1e}: "
              f"{ratios[-1]:.0f} times faster")
    return wall, cpu, ratios


if __name__ == "__main__":
    main()
