"""Covariance of a fit's constants: what noise, autocorrelated residuals, masses and instrument do to them.

The sandwich H^-1 M H^-1: H is the Gauss-Newton matrix of the whitened residuals (instrument.py), and M carries the white
noise of the recorded heat flow exactly through baseline, normalisation and integration, widened where the residuals of a run
are autocorrelated (a misfit of the law), and what may be off in instrument and sample. Isothermal runs that count on the
ramps' heat get the ramps' noise through that heat, and besides it the scatter of the heats that this noise does not explain
(mass errors): noise must not be counted twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.fitting.instrument import STEPS, WITH_THE_RECORD, Estimate, Instrument, Nuisance, estimates, residual_scale, shapes, weight_of, whitened
from libcure.fitting.law_fit import Options
from libcure.fitting.run import Run, trapezia

__all__ = ["Misfit", "alike_in_ramps", "correlation_length", "misfit_of", "noise_of_runs", "robust_weights", "root_of", "without"]

Array = NDArray[np.float64]
OF_RESIN = 0.3  # of the variance of a step of the heat capacity, that is the resin's and so alike in all ramps; the rest is each baseline's; own choice
PRIOR_WORTH = 4.0  # ramps whose scatter says as much as the prior of the masses


@dataclass(frozen=True)
class Misfit:
    """What the residuals of one run say."""

    pull_rate: Array
    pull_alpha: Array
    """(n, p) each: weighted slopes of the run's residuals, whitened"""
    pull_off: Array
    """(k, p): the same along what may be off in the run, by standard deviation of its prior"""
    off: list[Estimate]
    """What the run says of it"""
    heat_off: Array
    """(k,) what the same adds to the run's heat, over that heat"""
    noise: float
    """Of the heat flow [W/kg]"""
    widened: float
    """As ``LawFit.widened``"""
    widening: Array
    """(n,) of the variance that noise adds, by point"""
    squares_rate: float
    squares_alpha: float
    """Sums over the run's points, of residuals over the peak, less what may be off"""


def misfit_of(run: Run, r: Array, J: Array, weights: Array, found: Sequence[Nuisance]) -> Misfit:
    """From the run's own rows, those of rate first, and what may be off in it."""
    n = len(run.t)
    w = weight_of(run)
    peak = float(np.max(run.rate))
    off = np.column_stack([k.column for k in found]) if found else np.empty((2 * n, 0))
    said = estimates(found, r)
    clean = r - off @ np.array([e.deviations for e in said])
    pull = weights[:, None] * whitened(found, J)
    r_rate = clean[:n] / w
    # What baseline and normalisation may add is in the influence already.
    widened = correlation_length(without(r_rate, np.column_stack([run.basis, run.rate])))
    widening = np.full(n, widened)
    if run.truncated:
        # A tangent carries the noise of its window over the whole exotherm, but not what the law misses there.
        window = np.any(run.functionals != 0.0, axis=0)
        widening[window] = correlation_length(without(r_rate[window], run.basis[window]))
    return Misfit(
        (w / peak) * pull[:n], w * pull[n:], off.T @ pull, said, np.array([k.heat for k in found]) / run.heat,
        float(np.sqrt(np.mean(r_rate**2))) * peak * run.on,
        widened, widening,
        float(np.sum(r_rate**2)), float(np.sum((clean[n:] / w) ** 2)),
    )


def root_of(J: Array, weights: Array, found: Sequence[Nuisance]) -> Array:
    """(p, p) root of a run's part of the Gauss-Newton matrix, whitened."""
    left, shrink = shapes(found)
    if shrink:
        J = J - left @ (np.array(shrink)[:, None] * (left.T @ J))
    return np.asarray(np.linalg.qr(np.sqrt(weights)[:, None] * J, mode="r"))


def alike_in_ramps(runs: Sequence[Run]) -> float:
    """Of the variance of a step of the heat capacity, what all ramps have alike."""
    # By ramps alone all of it: nothing else tells a step from a first reaction, and intervals by a share were too narrow.
    return 1.0 if all(run.dynamic for run in runs) else OF_RESIN


def noise_of_runs(runs: Sequence[Run], misfits: Sequence[Misfit], counted: Sequence[int], heat: tuple[float, float],
                  p: int, instrument: Instrument) -> tuple[Array, float]:
    """(p, p) middle of the sandwich from the runs' noise, instrument and mass errors, and the scatter of masses.

    Args:
        counted: ramps whose heat counts.
        heat: of them, mean and standard error.
    """
    meat = np.zeros((p, p))
    # What a relative error of the ramps' heat adds, by isothermal run that counts on it.
    by_heat = [m.pull_rate.T @ run.rate + m.pull_alpha.T @ run.alpha
               for run, m in zip(runs, misfits, strict=True) if run.on_ramps]
    shared = np.sum(by_heat, axis=0) if by_heat else np.zeros(p)
    alike, share = np.zeros((STEPS, p)), alike_in_ramps(runs)
    for i, (run, m) in enumerate(zip(runs, misfits, strict=True)):
        influence = noise_influence(run, m.pull_rate, m.pull_alpha)
        if i in counted:
            influence -= np.outer(heat_influence(run), shared / len(counted))
        meat += m.noise**2 * influence.T @ (m.widening[:, None] * influence)
        # What is off in a ramp is off in the heat that other runs count on.
        pulls = m.pull_off + np.outer(m.heat_off, shared / len(counted)) if i in counted else m.pull_off
        is_step = [one.kind == "step" for one in m.off]
        if any(is_step):
            alike += pulls[is_step]
        for estimate, pull in zip(m.off, pulls, strict=True):
            if estimate.kind not in WITH_THE_RECORD:
                meat += (1.0 - share if estimate.kind == "step" else 1.0) * np.outer(pull, pull)
    meat += share * alike.T @ alike
    scatter = _mass_scatter(runs, misfits, counted, heat)
    variance = scatter**2
    if instrument.mass > 0.0:
        # Few ramps tell little of it: their scatter counts beside the prior's, which is worth PRIOR_WORTH of them.
        degrees = max(len(counted) - 1, 0)
        variance = (PRIOR_WORTH * instrument.mass**2 + degrees * variance) / (PRIOR_WORTH + degrees)
    # Each of these runs has a mass error of its own, and those of the ramps are in the heat they share.
    meat += variance * sum((np.outer(one, one) for one in by_heat), np.zeros((p, p)))
    if counted:
        meat += variance * np.outer(shared, shared) / len(counted)
    return meat, scatter


def _mass_scatter(runs: Sequence[Run], misfits: Sequence[Misfit], counted: Sequence[int], heat: tuple[float, float]) -> float:
    """Relative standard deviation of the ramps' heats that their noise does not explain."""
    if len(counted) < 2:
        return 0.0
    known = float(np.mean([misfits[i].noise**2 * misfits[i].widened * np.sum(heat_influence(runs[i]) ** 2) for i in counted]))
    mean, error = heat
    return float(max((error / mean) ** 2 * len(counted) - known, 0.0) ** 0.5)


def robust_weights(r: Array, opt: Options, runs: Sequence[Run]) -> Array:
    """d(loss)/d(r^2) of each residual."""
    if opt.loss == "linear":
        return np.ones_like(r)
    scale = residual_scale(opt.loss_scale, runs)
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
