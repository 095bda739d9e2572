"""Fits cure laws to runs and gel times, and says how sure the constants are.

Residuals are on rate (over the run's peak) and on degree of cure, of all runs at once; each run counts
as ten independent values known to 2 % of its peak, whatever its number of points, and each gel time as
one value with its own error. Covariance is the sandwich H^-1 M H^-1: H is the Gauss-Newton matrix, and M
carries the white noise of the recorded heat flow exactly through baseline, normalisation and
integration, widened where the residuals of a run are autocorrelated (a misfit, or a drifting instrument).
Isothermal runs that count on the ramps' heat get the ramps' noise through that heat, and besides it the
scatter of the heats that this noise does not explain (mass errors): noise must not be counted twice.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm, t

from libcure import _core, rendering
from libcure.errors import CureError, input_error
from libcure.fitting.laws import FitLaw, Parameter
from libcure.fitting.least_squares import (
    Solution,
    correlation,
    inverse_normal,
    multi_start,
    solve,
    start_points,
)
from libcure.fitting.records import Run, outliers, recounted, trapezia

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["GelTime", "HeldOut", "LawFit", "Options", "Profile", "fit_law", "hold_out", "predict_run", "profile"]

Array = NDArray[np.float64]
GAS_CONSTANT = 8.31446261815324
COUNTS_AS, KNOWN_TO = 10.0, 0.02  # see the module's text
THIN = 250  # points of a run while many starts are searched
SOLVE, COARSE = 1e-7, 1e-6  # tolerance of alpha; residuals are then good to 3e-6 and 4e-5 of the peak
Z95 = float(norm.ppf(0.975))


@dataclass(frozen=True)
class GelTime:
    """A cup or film that was watched until it gelled."""

    id: str
    gel_time: float
    """From mixing [s]"""
    ambient: float
    """[K]"""
    start: float
    """Temperature of the fresh mix [K]"""
    loss: float = np.inf
    """h A over m c_p [1/s]; infinite: a thin film at ambient temperature; 0: no heat is lost."""
    rise: float = 0.0
    """Adiabatic rise H/c_p [K]"""
    alpha_gel: float = 0.5
    relative_error: float = 0.1


@dataclass(frozen=True)
class Options:
    """How to fit."""

    starts: int = 32
    seed: int = 1
    loss: str = "linear"
    """``linear``, ``soft_l1``, ``huber`` or ``cauchy``."""
    loss_scale: float = 0.05
    """Residual, over the peak, from which a robust loss bends."""
    bootstrap: int = 0
    """Repetitions of a bootstrap of the best law; 0: none."""
    threads: int | None = None


@dataclass
class LawFit:
    """A law with its constants fitted."""

    law: FitLaw
    runs: list[Run]
    """As fitted: isothermal runs counted on the ramps' heat, which this law completes"""
    T_ref: float
    """[K]"""
    x: Array
    """(p,) free parameters, inside"""
    values: Array
    """All parameters, inside"""
    covariance: Array
    """(p, p) of ``x``"""
    curves: list[tuple[Array, Array, float]]
    """By run: rate [1/s] and degree of cure, treated as the data; share of the heat that the record shows."""
    heat: float
    """Heat of reaction, from the ramps and the share that they show [J/kg]; NaN without ramps"""
    heat_error: float
    """Its standard error, from the scatter between ramps [J/kg]; NaN with fewer than two"""
    mass_scatter: float
    """Relative standard deviation of the ramps' heats that the noise of their records does not explain"""
    gel_times: list[float]
    """By cup: model's gel time over the observed"""
    widened: list[float]
    """By run: over how many points the residuals are autocorrelated"""
    rms_rate: float
    """Root mean square residual of rate over the runs' peaks"""
    rms_alpha: float
    aicc: float
    bic: float
    count: int
    """Residuals that the criteria count: rates and gel times"""
    same_minimum: int
    """How many of the starts ended at this minimum"""
    starts: int
    solution: Solution
    bread: Array
    """(p, p) inverse Gauss-Newton matrix"""

    @property
    def free_parameters(self) -> list[Parameter]:
        """(p,) what ``x`` are."""
        return [self.law.parameters[i] for i in self.law.free]

    @property
    def errors(self) -> Array:
        """(p,) standard errors of ``x``; infinite where the data say so little that round-off makes a variance negative."""
        variance = np.diag(self.covariance)
        return np.sqrt(np.where(variance >= 0.0, variance, np.inf))

    @property
    def heat_half_width(self) -> float:
        """Of the heat's 95 % interval, by Student's t for so many ramps [J/kg]; NaN with fewer than two."""
        ramps = len(ramps_with_heat(self.runs, self.curves))
        return float(t.ppf(0.975, ramps - 1)) * self.heat_error if ramps > 1 else np.nan

    @property
    def correlation(self) -> Array:
        return correlation(self.covariance)

    @property
    def unfit(self) -> str:
        """Why the law cannot be a model: constants that the data do not hold. Empty where they hold all."""
        said = []
        for i, k in enumerate(self.law.free):
            p = self.law.parameters[k]
            if self.solution.on_bound[i]:
                said.append(f"{p.shown} ended on its bound, {p.text(p.outside(float(self.x[i])))}")
            elif not Z95 * float(self.errors[i]) < p.high - p.low:
                # The interval is wider than the whole range that was searched.
                said.append(f"the data say nothing of {p.shown}")
        return "; ".join(said)

    def to_dataframe(self) -> pd.DataFrame:
        """Constants with their 95 % intervals by standard error, in the units of model files; those held have none."""
        import pandas as pd

        rows = [(p.key, p.outside(float(self.x[k])), *self.interval(k), p.unit, False) for k, p in enumerate(self.free_parameters)]
        rows += [(p.key, float(self.law.fixed[p.key]), np.nan, np.nan, p.unit, True) for p in self.law.parameters if p.key in self.law.fixed]
        if np.isfinite(self.heat):
            half = self.heat_half_width
            rows.append(("heat_J_g", self.heat / 1e3, (self.heat - half) / 1e3, (self.heat + half) / 1e3, "J/g", False))
        return pd.DataFrame(rows, columns=["constant", "value", "low", "high", "unit", "held"])

    def plot(self, path: str | os.PathLike[str] | None = None) -> Figure:
        """Data over fit, run by run; with a path also written (.png, .svg, .pdf).

        Raises:
            CureError: the law was fitted to gel times alone.
        """
        if not self.runs:
            raise input_error("plot", "a fit to gel times alone", "a fit to runs")
        return rendering.draw_to(self, path)

    def __repr__(self) -> str:
        misfit = f", rate rms {100.0 * self.rms_rate:.2f} % of the peak" if self.runs else ""
        return f"<LawFit {self.law.label}: {len(self.x)} constants, {len(self.runs)} runs{misfit}{', no model' if self.unfit else ''}>"

    def _repr_html_(self) -> str:
        return rendering.html(self)

    def interval(self, i: int) -> tuple[float, float]:
        """95 % interval of the free parameter number i, in outside units."""
        p = self.law.parameters[self.law.free[i]]
        half = Z95 * float(self.errors[i])
        return p.outside(float(self.x[i]) - half), p.outside(float(self.x[i]) + half)


@dataclass(frozen=True)
class Profile:
    """How the misfit rises when one parameter is held and the others are fitted again."""

    parameter: int
    """Number among the free ones"""
    x: Array
    """(k,) values held, inside"""
    z: Array
    """(k,) signed root of the misfit's rise, in standard deviations; straight where the fit is linear"""
    low: float
    high: float
    """95 % interval, inside; infinite where the profile does not rise enough."""


@dataclass(frozen=True)
class HeldOut:
    """A run predicted by a fit that has not seen it."""

    run: str
    rms_rate: float
    """Over the run's peak"""
    rms_alpha: float
    ratio: float
    """``rms_rate`` over that of the fit which has seen the run"""


def build(law: FitLaw, T_ref: float, runs: Sequence[Run], cups: Sequence[GelTime], options: Options,
          values: Array | None = None, tolerance: float = SOLVE) -> _core.fit.Problem:
    """The core's problem."""
    weights = [np.sqrt(COUNTS_AS / len(run.t)) / KNOWN_TO for run in runs]
    scale = options.loss_scale * float(np.median(weights)) if weights else 3.0
    problem = law.core(T_ref, law.held() if values is None else values, options.loss, scale, tolerance)
    odd = outliers(runs)
    for run, weight in zip(runs, weights, strict=True):
        problem.add_run(run.time, run.temperature, run.heat_flow, (run.part.start, run.part.stop), run.baseline,
                        run.windows, run.total_heat or 0.0, float(run.time[0]), run.programme_tolerance,
                        (weight, weight), run.dynamic and run.id not in odd, run.on_ramps)
    for cup in cups:
        problem.add_cup(cup.gel_time, cup.start, cup.ambient, cup.loss, cup.rise, cup.alpha_gel, cup.relative_error)
    return problem


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
            done: Callable[[], None] | None = None) -> LawFit:
    """Fits one law to all runs and gel times at once, from many starts.

    The starts are searched on runs whose points are averaged in blocks (some 250 a run); the three best
    different ends are then refined on all points, and the best of them is the fit.

    Args:
        E: activation energy to start around [J/mol], as an isoconversional method gave it.
        T_ref: reference temperature of the rate constants [K]; the middle of the data by default.
        done: called after each start.

    Raises:
        CureError: no data, more free parameters than data, or no start could be solved.
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
    coarse = build(law, T_ref, thin, cups, opt, tolerance=COARSE)
    ends = multi_start(coarse.compressed, starts, low, high, tolerance=1e-7, evaluations=80, threads=opt.threads,
                       done=done)
    candidates = [ends[0]]
    for end in ends[1:]:
        if len(candidates) < 3 and end.cost > candidates[-1].cost * 1.01:
            candidates.append(end)
    full = build(law, T_ref, runs, cups, opt)
    refined = []
    for end in candidates:
        try:
            refined.append(solve(full.compressed, end.x, low, high, tolerance=1e-10, evaluations=100))
        except CureError:
            continue
    if not refined:
        raise input_error("law", law.label, "a law that the runs can follow")
    best = min(refined, key=lambda end: end.cost)
    turned = law.ordered(best.x)
    if turned is not None:
        best = solve(full.compressed, turned, low, high, tolerance=1e-10, evaluations=100)
    heat = heat_of_ramps(runs, full.curves(best.x))[0]
    if any(run.on_ramps for run in runs) and np.isfinite(heat):
        # Their heat is part of the fit; now that it is known, data and curves are shown over it.
        runs = [recounted(run, heat) for run in runs]
        full = build(law, T_ref, runs, cups, opt)
        best = solve(full.compressed, best.x, low, high, tolerance=1e-10, evaluations=100)
    same = sum(end.cost < ends[0].cost * 1.01 for end in ends)
    return _describe(law, T_ref, best, full, runs, cups, opt, same, len(starts))


def ramps_with_heat(runs: Sequence[Run], curves: Sequence[tuple[Array, Array, float]]) -> list[int]:
    """Numbers of the ramps that tell the heat of reaction; those whose heat stands out do not."""
    odd = outliers(runs)
    return [i for i, run in enumerate(runs) if run.dynamic and run.id not in odd and curves[i][2] > _core.fit.least_share]


def heat_of_ramps(runs: Sequence[Run], curves: Sequence[tuple[Array, Array, float]]) -> tuple[float, float]:
    """Heat of reaction and its standard error [J/kg]."""
    heats = [runs[i].heat / curves[i][2] for i in ramps_with_heat(runs, curves)]
    if not heats:
        return np.nan, np.nan
    error = float(np.std(heats, ddof=1) / np.sqrt(len(heats))) if len(heats) > 1 else np.nan
    return float(np.mean(heats)), error


@dataclass(frozen=True)
class _Misfit:
    """What the residuals of one run say."""

    pull_rate: Array
    pull_alpha: Array
    """(n, p) each: weighted slopes of the run's residuals"""
    noise: float
    """Of the heat flow [W/kg]"""
    widened: float
    """As ``LawFit.widened``"""
    squares_rate: float
    squares_alpha: float
    """Sums over the run's points, of residuals over the peak"""


def _misfit(run: Run, r: Array, J: Array, weights: Array) -> _Misfit:
    """From the run's own rows, those of rate first."""
    n = len(run.t)
    w = np.sqrt(COUNTS_AS / n) / KNOWN_TO
    peak = float(np.max(run.rate))
    r_rate = r[:n] / w
    return _Misfit(
        (w / peak) * weights[:n, None] * J[:n], w * weights[n:, None] * J[n:],
        float(np.sqrt(np.mean(r_rate**2))) * peak * (run.total_heat or run.heat),
        # What baseline and normalisation may add is in the influence already.
        correlation_length(without(r_rate, np.column_stack([run.basis, run.rate]))),
        float(np.sum(r_rate**2)), float(np.sum((r[n:] / w) ** 2)),
    )


def _noise_of_runs(runs: Sequence[Run], misfits: Sequence[_Misfit], counted: Sequence[int], heat: tuple[float, float],
                   p: int) -> tuple[Array, float]:
    """(p, p) middle of the sandwich from the runs' noise and mass errors, and the scatter of masses.

    Args:
        counted: ramps whose heat counts.
        heat: of them, mean and standard error.
    """
    meat = np.zeros((p, p))
    # What a relative error of the ramps' heat adds, by isothermal run that counts on it.
    by_heat = [m.pull_rate.T @ run.rate + m.pull_alpha.T @ run.alpha
               for run, m in zip(runs, misfits, strict=True) if run.on_ramps]
    shared = np.sum(by_heat, axis=0) if by_heat else np.zeros(p)
    for i, (run, m) in enumerate(zip(runs, misfits, strict=True)):
        influence = noise_influence(run, m.pull_rate, m.pull_alpha)
        if i in counted:
            influence -= np.outer(heat_influence(run), shared / len(counted))
        meat += m.noise**2 * m.widened * influence.T @ influence
    if len(counted) < 2:
        return meat, 0.0
    known = float(np.mean([misfits[i].noise**2 * misfits[i].widened * np.sum(heat_influence(runs[i]) ** 2) for i in counted]))
    mean, error = heat
    mass_scatter = max((error / mean) ** 2 * len(counted) - known, 0.0) ** 0.5
    # Each isothermal run has a mass error of its own, and those of the ramps are in the heat they share.
    meat += mass_scatter**2 * (sum(np.outer(one, one) for one in by_heat) + np.outer(shared, shared) / len(counted))
    return meat, mass_scatter


def _criteria(p: int, squares_rate: float, points: int, squares_cups: float, cups: int) -> tuple[float, float]:
    """AICc and BIC of p constants; the noise of the rates is one more where there are points."""
    log_likelihood = -0.5 * squares_cups
    if points:
        log_likelihood -= 0.5 * points * np.log(squares_rate / points)
    count, k = points + cups, p + (1 if points else 0)
    aicc = 2.0 * k - 2.0 * log_likelihood + (2.0 * k * (k + 1) / (count - k - 1) if count > k + 1 else np.inf)
    return float(aicc), float(k * np.log(max(count, 1)) - 2.0 * log_likelihood)


def _describe(law: FitLaw, T_ref: float, best: Solution, full: _core.fit.Problem, runs: Sequence[Run],
              cups: Sequence[GelTime], opt: Options, same: int, starts: int) -> LawFit:
    p = len(best.x)
    values = law.held()
    values[law.free] = best.x
    r, J = full.evaluate(best.x)
    weights = _robust_weights(r, opt, runs)
    bread = inverse_normal(np.sqrt(weights)[:, None] * J)
    curves = full.curves(best.x)
    heat = heat_of_ramps(runs, curves)
    misfits, at = [], 0
    for run in runs:
        rows = slice(at, at + 2 * len(run.t))
        misfits.append(_misfit(run, r[rows], J[rows], weights[rows]))
        at = rows.stop
    points = at // 2
    meat, mass_scatter = _noise_of_runs(runs, misfits, ramps_with_heat(runs, curves), heat, p)
    ratios, squares_cups = [], 0.0
    if cups:
        r_cups, J_cups = r[at:], weights[at:, None] * J[at:]
        squares_cups = float(np.sum(r_cups**2))
        # Cups that scatter more than they claim widen the answer.
        freedom = max(len(cups) - (p if not runs else 0), 1)
        excess = max(squares_cups / freedom, 1.0)
        meat += excess * J_cups.T @ J_cups
        ratios = [float(np.exp(v * cup.relative_error)) for v, cup in zip(r_cups, cups, strict=True)]
    squares_rate, squares_alpha = sum(m.squares_rate for m in misfits), sum(m.squares_alpha for m in misfits)
    aicc, bic = _criteria(p, squares_rate, points, squares_cups, len(cups))
    return LawFit(
        law, list(runs), T_ref, best.x, values, bread @ meat @ bread, curves, *heat, mass_scatter,
        ratios, [m.widened for m in misfits],
        float(np.sqrt(squares_rate / points)) if points else np.nan,
        float(np.sqrt(squares_alpha / points)) if points else np.nan,
        aicc, bic, points + len(cups), same, starts, best, bread,
    )


def _robust_weights(r: Array, opt: Options, runs: Sequence[Run]) -> Array:
    """d(loss)/d(r^2) of each residual."""
    if opt.loss == "linear":
        return np.ones_like(r)
    scale = opt.loss_scale * float(np.median([np.sqrt(COUNTS_AS / len(run.t)) / KNOWN_TO for run in runs])) \
        if runs else 3.0
    z = (r / scale) ** 2
    if opt.loss == "soft_l1":
        return np.asarray(1.0 / np.sqrt(1.0 + z))
    if opt.loss == "huber":
        return np.asarray(np.where(z <= 1.0, 1.0, 1.0 / np.sqrt(np.maximum(z, 1.0))))
    return np.asarray(1.0 / (1.0 + z))


def noise_influence(run: Run, u: Array, v: Array) -> Array:
    """(points, p): what noise of the recorded heat flow adds to u' rate + v' alpha.

    The adjoint of baseline, integration and normalisation, applied to u and v (points, p).
    """
    # Transposed running integral.
    rest = np.cumsum(v[::-1], axis=0)[::-1]
    steps = np.diff(run.t)
    c = u.copy()
    c[:-1] += 0.5 * steps[:, None] * rest[1:]
    c[1:] += 0.5 * steps[:, None] * rest[1:]
    heat = run.total_heat
    if heat is None:
        heat = run.heat
        c -= np.outer(trapezia(run), u.T @ run.rate + v.T @ run.alpha)
    c -= run.functionals.T @ (run.basis.T @ c)
    return np.asarray(c / heat)


def heat_influence(run: Run) -> Array:
    """(points,): what noise of the recorded heat flow adds to the run's heat, over that heat [kg/W]."""
    c = trapezia(run)
    return np.asarray((c - run.functionals.T @ (run.basis.T @ c)) / run.heat)


def without(r: Array, shapes: Array) -> Array:
    """Residuals less their best combination of some shapes (points, k)."""
    size = np.sqrt(np.sum(shapes**2, axis=0))
    part = shapes[:, size > 0] / size[size > 0]
    return np.asarray(r - part @ np.linalg.lstsq(part, r, rcond=1e-10)[0])


def correlation_length(r: Array) -> float:
    """Points over which residuals are autocorrelated: 1 for white noise (sum of autocorrelations until they fade)."""
    n = len(r)
    size = 1 << (2 * n - 1).bit_length()
    f = np.fft.rfft(r, size)
    a = np.fft.irfft(f * np.conj(f), size)[:n]
    if not a[0] > 0.0:
        return 1.0
    a = a / a[0]
    faded = np.flatnonzero(a < 3.0 / np.sqrt(n))
    last = int(faded[0]) if len(faded) else n
    return float(max(1.0 + 2.0 * np.sum(a[1:last]), 1.0))


def hold_out(fit: LawFit, cups: Sequence[GelTime] = (), options: Options | None = None,
             only: Sequence[str] | None = None) -> list[HeldOut]:
    """Leaves each run out in turn (or those named), fits again, and predicts it."""
    opt = options or Options()
    runs = fit.runs
    if len(runs) < 2:
        return []
    low, high = fit.law.box(expected_rate(runs, cups, fit.T_ref, 60e3), None, starts=False)
    out = []
    for i, run in enumerate(runs):
        if only is not None and run.id not in only:
            continue
        rest = build(fit.law, fit.T_ref, runs[:i] + runs[i + 1 :], cups, opt, tolerance=COARSE)
        try:
            end = solve(rest.compressed, fit.x, low, high, tolerance=1e-7, evaluations=60)
        except CureError:
            out.append(HeldOut(run.id, np.nan, np.nan, np.nan))
            continue
        one = build(fit.law, fit.T_ref, [run], [], opt, tolerance=COARSE)
        (rate, alpha, _), (seen, _, _) = one.curves(end.x)[0], one.curves(fit.x)[0]
        peak = float(np.max(run.rate))

        def rms(x: Array) -> float:
            return float(np.sqrt(np.mean(x**2)))

        error = rms(rate - run.rate) / peak
        out.append(HeldOut(run.id, error, rms(alpha - run.alpha), error / max(rms(seen - run.rate) / peak, 1e-12)))
    return out


def profile(fit: LawFit, i: int, cups: Sequence[GelTime] = (), options: Options | None = None,
            steps: Sequence[float] = (1.0, 2.0, 3.0)) -> Profile:
    """Profile of the free parameter number i.

    The rise of the misfit is scaled so that its curvature at the minimum is that of the fit's covariance
    (a composite likelihood has not the curvature of its own uncertainty; R.E. Chandler, S. Bate,
    Biometrika 94, 167, 2007, from memory).
    """
    opt = options or Options()
    runs = fit.runs
    low, high = fit.law.box(expected_rate(runs, cups, fit.T_ref, 60e3), None, starts=False)
    problem = build(fit.law, fit.T_ref, runs, cups, opt)
    middle = solve(problem.compressed, fit.x, low, high, tolerance=1e-9, evaluations=60)
    p = len(fit.x)
    error = float(fit.errors[i])
    scale = inverse_normal(middle.triangle[:, :p])[i, i] / max(error**2, 1e-300)
    others = [k for k in range(p) if k != i]
    slope = _ridge(middle.triangle[:, :p], i, others)
    xs, zs = [float(middle.x[i])], [0.0]
    for sign in (-1.0, 1.0):
        for step in steps:
            held = float(middle.x[i]) + sign * step * error
            if not low[i] < held < high[i]:
                break

            def triangle(y: Array, held: float = held) -> Array:
                full = np.empty(p)
                full[i], full[others] = held, y
                R = np.asarray(problem.compressed(full))
                return np.asarray(np.linalg.qr(np.delete(R, i, axis=1), mode="r"))

            try:
                start = np.clip(middle.x[others] + slope * (held - middle.x[i]), low[others], high[others])
                cost = solve(triangle, start, low[others], high[others], tolerance=1e-7, evaluations=40).cost \
                    if others else 0.5 * float(np.sum(problem.compressed(np.array([held]))[:, -1] ** 2))
            except CureError:
                break
            xs.append(held)
            zs.append(sign * float(np.sqrt(max(2.0 * (cost - middle.cost), 0.0) * scale)))
    order = np.argsort(xs)
    x, z = np.array(xs)[order], np.array(zs)[order]
    return Profile(i, x, z, _reach(x, z, -Z95), _reach(x, z, Z95))


def _ridge(J: Array, i: int, others: list[int]) -> Array:
    """How the other parameters follow when number i moves, to first order."""
    if not others:
        return np.empty(0)
    return np.asarray(-np.linalg.lstsq(J[:, others], J[:, i], rcond=1e-12)[0])


def _reach(x: Array, z: Array, at: float) -> float:
    inside = np.sign(at) * z
    if inside.max() < abs(at):
        return float(np.inf * np.sign(at))
    return float(np.interp(at, z, x)) if np.all(np.diff(z) > 0) else float(x[np.argmin(np.abs(z - at))])


def predict_run(fit: LawFit, run: Run) -> HeldOut:
    """A run that the fit has not seen, beside what the law says of it."""
    treated = recounted(run, fit.heat) if run.on_ramps and np.isfinite(fit.heat) else run
    rate, alpha, _ = build(fit.law, fit.T_ref, [treated], [], Options()).curves(fit.x)[0]
    peak = float(np.max(treated.rate))
    error = float(np.sqrt(np.mean((rate - treated.rate) ** 2))) / peak
    return HeldOut(run.id, error, float(np.sqrt(np.mean((alpha - treated.alpha) ** 2))),
                   error / max(fit.rms_rate, 1e-12))
