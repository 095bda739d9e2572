"""Fits cure laws to runs and gel times.

Residuals are on rate (over the run's peak) and on degree of cure, of all runs at once; each run counts
as ten independent values known to 2 % of its peak, whatever its number of points, and each gel time as
one value with its own error. What instrument and samples may have done to the runs is fitted with them
(instrument.py); how sure the constants are is in covariance.py.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from threading import Event

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.errors import CureError, input_error
from libcure.fitting.checks import outliers
from libcure.fitting.covariance import misfit_of, noise_of_runs, robust_weights, root_of
from libcure.fitting.instrument import EXACT, advanced, disturbances, offset, residual_scale, shapes, weight_of
from libcure.fitting.law_fit import GelTime, LawFit, Options, heat_of_ramps, ramps_with_heat
from libcure.fitting.laws import FitLaw
from libcure.fitting.least_squares import Solution, inverse_normal, multi_start, solve, start_points
from libcure.fitting.run import Run, recounted
from libcure.fitting.selection import compare
from libcure.stopping import stopping

__all__ = ["bounds", "build", "expected_rate", "fit_law"]

Array = NDArray[np.float64]
GAS_CONSTANT = 8.31446261815324
THIN = 250  # points of a run while many starts are searched
HISTORY = 80.0  # K below the record of a ramp whose start is lost, from where it is taken to have been heated
ROUNDS = 3  # until lost starts stand still
SOLVE, COARSE = 1e-7, 1e-6  # tolerance of alpha; residuals are then good to 3e-6 and 4e-5 of the peak


def build(law: FitLaw, T_ref: float, runs: Sequence[Run], cups: Sequence[GelTime], options: Options,
          values: Array | None = None, tolerance: float = SOLVE) -> _core.fit.Problem:
    """The core's problem."""
    scale = residual_scale(options.loss_scale, runs)
    problem = law.core(T_ref, law.held() if values is None else values, options.loss, scale, tolerance)
    odd = outliers(runs)
    for run in runs:
        time, temperature, heat_flow, part = _with_history(run)
        problem.add_run(time, temperature, heat_flow, part, run.baseline,
                        run.windows, run.total_heat or 0.0, float(time[0]) - run.lost, run.programme_tolerance,
                        (weight_of(run), weight_of(run)), run.dynamic and not run.truncated and run.id not in odd, run.on_ramps, run.dynamic)
    if runs and options.instrument.lags:
        problem.set_lags(options.instrument.lag_means, options.instrument.lag_errors)
    for i, run in enumerate(runs):
        found = disturbances(run, options.instrument)
        problem.set_shapes(i, *shapes(found), offset(run, found))
    for cup in cups:
        problem.add_cup(cup.gel_time, cup.start, cup.ambient, cup.loss, cup.rise, cup.alpha_gel, cup.relative_error)
    return problem


def _with_history(run: Run) -> tuple[Array, Array, Array, tuple[int, int]]:
    """Time, temperature, heat flow and part of a record; a ramp whose start is lost is taken to have come from the cold."""
    if run.truncated != "start":
        return run.time, run.temperature, run.heat_flow, (run.part.start, run.part.stop)
    before = HISTORY / run.heating_rate
    return (np.concatenate([[run.time[0] - before], run.time]), np.concatenate([[run.temperature[0] - HISTORY], run.temperature]),
            np.concatenate([[run.heat_flow[0]], run.heat_flow]), (run.part.start + 1, run.part.stop + 1))


def bounds(law: FitLaw, runs: Sequence[Run], cups: Sequence[GelTime], T_ref: float, options: Options,
           E: float | None = None) -> tuple[Array, Array]:
    """Of the free parameters and, where they are fitted, of the lags."""
    low, high = law.box(expected_rate(runs, cups, T_ref, E or 60e3), E, starts=False)
    if not runs or not options.instrument.lags:
        return low, high
    least, most = options.instrument.lag_bounds()
    return np.concatenate([low, least]), np.concatenate([high, most])


def expected_rate(runs: Sequence[Run], cups: Sequence[GelTime], T_ref: float, E: float) -> float:
    """ln of the rate constant to be expected at T_ref, from the peaks or the gel times."""
    found = [np.log(2.0 * np.max(run.rate)) + E / GAS_CONSTANT * (1.0 / run.T[np.argmax(run.rate)] - 1.0 / T_ref)
             for run in runs]
    found += [np.log(2.0 / cup.gel_time) + E / GAS_CONSTANT * (1.0 / cup.start - 1.0 / T_ref) for cup in cups]
    return float(np.median(found))


def reference_temperature(runs: Sequence[Run], cups: Sequence[GelTime]) -> float:
    """In the middle of the data, on a whole degree Celsius [K]."""
    places = [float(run.T[np.argmax(run.rate)]) for run in runs] + [cup.start for cup in cups]
    return float(np.round(np.mean(places) - 273.15) + 273.15)


def fit_law(law: FitLaw, runs: Sequence[Run], cups: Sequence[GelTime] = (), *, E: float | None = None,
            T_ref: float | None = None, options: Options | None = None,
            done: Callable[[], None] | None = None, stop: Event | None = None) -> LawFit:
    """Fits one law to all runs and gel times at once, from many starts.

    The starts are searched on runs whose points are averaged in blocks (some 250 a run); the three best
    different ends are then refined on all points, and the best of them is the fit.

    Args:
        E: activation energy to start around [J/mol], as an isoconversional method gave it.
        T_ref: reference temperature of the rate constants [K]; the middle of the data by default.
        done: called after each start.
        stop: ends the call once another thread sets it; Ctrl-C does so with KeyboardInterrupt.

    Raises:
        CureError: no data, more free parameters than data, no start could be solved, or ``stop`` was set.
    """
    opt = options or Options()
    if not runs and len(cups) < len(law.free):
        raise input_error("gel_times", f"{len(cups)}", f"{len(law.free)} or more for {len(law.free)} free constants "
                          f"of {law.label}; hold more of them (fixed), or add DSC runs")
    if not law.free:
        raise input_error("fixed", "all constants", "at least one constant left free")
    T_ref = reference_temperature(runs, cups) if T_ref is None else T_ref
    ln_k = expected_rate(runs, cups, T_ref, E or 60e3)
    low, high = law.box(ln_k, E, starts=False)
    starts = start_points(*law.box(ln_k, E, starts=True), opt.starts, opt.seed)
    thin = [run.thinned(THIN) for run in runs]
    # Which minimum it is does not hang on lags, but what drifts and starts late may pass for diffusion control.
    coarse = build(law, T_ref, thin, cups, replace(opt, instrument=opt.instrument.without_lags() if law.vitrifies else EXACT), tolerance=COARSE)
    with stopping(stop):
        ends = multi_start(coarse.compressed, starts, low, high, tolerance=1e-7, evaluations=80, threads=opt.threads, done=done)
        best, full, runs = _refined(law, T_ref, ends, runs, cups, opt, bounds(law, runs, cups, T_ref, opt, E))
    same = sum(end.cost < ends[0].cost * 1.01 for end in ends)
    return _describe(law, T_ref, best, full, runs, cups, opt, same, len(starts))


def _refined(law: FitLaw, T_ref: float, ends: Sequence[Solution], runs: Sequence[Run], cups: Sequence[GelTime], opt: Options,
             box: tuple[Array, Array]) -> tuple[Solution, _core.fit.Problem, Sequence[Run]]:
    """The best of the ends that differ, on all points and with the instrument; its problem, and the runs as fitted."""
    candidates = [ends[0]]
    for end in ends[1:]:
        if len(candidates) < 3 and end.cost > candidates[-1].cost * 1.01:
            candidates.append(end)
    p = len(law.free)
    full = build(law, T_ref, runs, cups, opt)
    lags = np.array(opt.instrument.lag_means) if len(box[0]) > p else np.empty(0)
    refined = []
    for end in candidates:
        try:
            refined.append(solve(full.compressed, np.concatenate([end.x, lags]), *box, tolerance=1e-10, evaluations=100))
        except CureError:
            continue
    if not refined:
        raise input_error("law", law.label, "a law that the runs can follow")
    best = min(refined, key=lambda end: end.cost)
    turned = law.ordered(best.x[:p])
    if turned is not None:
        best = solve(full.compressed, np.concatenate([turned, best.x[p:]]), *box, tolerance=1e-10, evaluations=100)
    for _ in range(ROUNDS if any(not run.dynamic for run in runs) and opt.instrument.start > 0.0 else 1):
        curves = full.curves(best.x)
        heat = heat_of_ramps(runs, curves)[0]
        if not np.isfinite(heat) and opt.instrument.start <= 0.0:
            break
        # Heat and lost starts are part of the fit; now that they are known, data and curves are shown with them.
        runs = [advanced(run, rate, alpha, opt.instrument) for run, (rate, alpha, _) in zip(runs, curves, strict=True)]
        runs = [recounted(run, heat) if np.isfinite(heat) else run for run in runs]
        full = build(law, T_ref, runs, cups, opt)
        best = solve(full.compressed, best.x, *box, tolerance=1e-10, evaluations=100)
    return best, full, runs


def _describe(law: FitLaw, T_ref: float, best: Solution, full: _core.fit.Problem, runs: Sequence[Run],
              cups: Sequence[GelTime], opt: Options, same: int, starts: int) -> LawFit:
    p, varied = len(law.free), len(best.x)
    values = law.held()
    values[law.free] = best.x[:p]
    r, J = full.evaluate(best.x)
    weights = robust_weights(r, opt, runs)
    curves = full.curves(best.x)
    heat = heat_of_ramps(runs, curves)
    misfits, at, normal = [], 0, np.zeros((0, varied))
    for run in runs:
        rows = slice(at, at + 2 * len(run.t))
        found = disturbances(run, opt.instrument)
        misfits.append(misfit_of(run, r[rows], J[rows], weights[rows], found))
        normal = np.vstack([normal, root_of(J[rows], weights[rows], found)])
        at = rows.stop
    points = at // 2
    bread = inverse_normal(np.vstack([normal, np.sqrt(weights[at:, None]) * J[at:]]))
    meat, mass_scatter = noise_of_runs(runs, misfits, ramps_with_heat(runs, curves), heat, varied, opt.instrument)
    ratios, squares_cups = [], 0.0
    r_cups, J_cups = r[at : at + len(cups)], weights[at : at + len(cups), None] * J[at : at + len(cups)]
    priors = J[at + len(cups) :]
    meat += priors.T @ priors
    if cups:
        squares_cups = float(np.sum(r_cups**2))
        # Cups that scatter more than they claim widen the answer.
        freedom = max(len(cups) - (p if not runs else 0), 1)
        excess = max(squares_cups / freedom, 1.0)
        meat += excess * J_cups.T @ J_cups
        ratios = [float(np.exp(v * cup.relative_error)) for v, cup in zip(r_cups, cups, strict=True)]
    squares_rate, squares_alpha = sum(m.squares_rate for m in misfits), sum(m.squares_alpha for m in misfits)
    # By a root of the middle, so that round-off makes no variance negative where the data say next to nothing.
    # Scaled first: an energy in J/mol is ten thousand times a logarithm.
    scale = np.sqrt(np.maximum(np.diag(meat), np.finfo(float).tiny))
    size, axes = np.linalg.eigh(meat / np.outer(scale, scale))
    half = bread @ (scale[:, None] * axes * np.sqrt(np.maximum(size, 0.0)))
    whole = half @ half.T
    fit = LawFit(
        law, list(runs), T_ref, best.x[:p], values, whole[:p, :p], curves, *heat, mass_scatter,
        ratios, [m.widened for m in misfits],
        float(np.sqrt(squares_rate / points)) if points else np.nan,
        float(np.sqrt(squares_alpha / points)) if points else np.nan,
        squares_cups, points + len(cups), same, starts, best, opt.instrument, best.x[p:], whole[p:, p:],
        # Of a quadratic misfit: the constants that go with other lags.
        bread[:p, p:] @ np.linalg.pinv(bread[p:, p:]), [m.off for m in misfits],
    )
    compare([fit])
    return fit
