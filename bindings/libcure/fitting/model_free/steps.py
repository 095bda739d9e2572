"""Runs cut into steps of the degree of cure: what each says of E, and how E would move if a run were off.

A step from alpha_(k-1) to alpha_k takes a run the generalised time J = integral of exp(-E/R (1/T - 1/T_k)) dt, and E_k is what makes
J alike in all runs (S. Vyazovkin, J. Comput. Chem. 22 (2001) 178). Near it ln J is a straight line in E, whose slope is the run's
mean 1/(RT), so a run's deviation moves E_k as it moves a regression line: errors are those of the jackknife over runs, in the
form of their leverages (J.G. MacKinnon, H. White, J. Econometrics 29 (1985) 305, HC3; from memory). Errors of steps that come
from the same run are kept together. All in SI.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from libcure.fitting.instrument import Instrument
from libcure.fitting.isoconversional import isoconversional
from libcure.fitting.quantiles import Z95, student
from libcure.fitting.run import Run

__all__ = ["GAS_CONSTANT", "Crossings", "Steps", "crossings", "cut", "half_width"]

Array = NDArray[np.float64]
GAS_CONSTANT = 8.31446261815324
INNER, FIRST = 9, 241  # points of a step, and of the first, in which a ramp comes from the cold
ALIKE = 1e-6  # 1/K, between runs so alike (0.1 K) that their temperatures tell no E
NEAR, LEAST = 0.01, 7  # degree of cure about a place, and points, from which a rate is read; as in cure/fit/isoconversional.hpp


@dataclass(frozen=True)
class Crossings:
    """Where runs reach degrees of cure; NaN where they do not."""

    alpha: Array
    """(k,)"""
    time: Array
    """(n, k) [s]"""
    T: Array
    """(n, k) [K]"""
    rate: Array
    """(n, k) by a line through the points about each place [1/s]"""


def crossings(runs: Sequence[Run], alpha: Array) -> Crossings:
    """Times, temperatures and rates of runs at degrees of cure (k,)."""
    shape = (len(runs), len(alpha))
    time, T, rate = np.full(shape, np.nan), np.full(shape, np.nan), np.full(shape, np.nan)
    for i, run in enumerate(runs):
        most = np.maximum.accumulate(run.alpha)
        reached = alpha < most[-1]
        # Where noise makes it stand still, the first time counts.
        up = np.concatenate([[True], np.diff(most) > 0.0])
        time[i, reached] = np.interp(alpha[reached], most[up], run.t[up])
        T[i, reached] = np.interp(time[i, reached], run.t, run.T)
        for k in np.flatnonzero(reached):
            rate[i, k] = _rate(run, most, float(alpha[k]))
    return Crossings(alpha, time, T, rate)


def _rate(run: Run, most: Array, alpha: float) -> float:
    low, high = np.searchsorted(most, [alpha - NEAR, alpha + NEAR])
    if high - low < LEAST:
        low = max(int(np.searchsorted(most, alpha)) - LEAST // 2 - 1, 0)
        high = low + LEAST
    x, y = run.alpha[low:high] - alpha, run.rate[low:high]
    x_mean, y_mean = float(x.mean()), float(y.mean())
    spread = float(((x - x_mean) ** 2).sum())
    return y_mean - x_mean * (float((x - x_mean) @ (y - y_mean)) / spread if spread > 0.0 else 0.0)


@dataclass(frozen=True)
class Steps:
    """E of each step with what the runs say beside it."""

    alpha: Array
    """(k,) ends of the steps; the first begins at 0"""
    E: Array
    """(k,) [J/mol]; NaN where fewer than three runs reach it"""
    low: Array
    high: Array
    """(k,) 95 % band by the runs' scatter and the instrument's lag [J/mol]"""
    T_mid: Array
    """(k,) [K]"""
    ln_J: Array
    """(k,) mean over the runs"""
    moved_E: Array
    """(n + 1, k) [J/mol] by what each run alone is off; last: by one standard deviation of the lag"""
    moved_ln_J: Array
    """(n + 1, k) likewise"""
    counts: Array
    """(k,) runs that reach the step"""

    @property
    def factor(self) -> Array:
        """(k,) of a 95 % interval, by Student's t: each step takes two numbers from its runs."""
        return np.array([student(int(count) - 2) for count in self.counts])

    @property
    def told(self) -> int:
        """How many steps from the first on have an E."""
        known = np.isfinite(self.E)
        return int(np.argmin(known)) if not known.all() else len(known)


def half_width(moved: Array, factor: Array) -> Array:
    """Of a 95 % interval, from movements (n + 1, ...) by run and, last, by the lag; factor (...): that of the runs' scatter."""
    with np.errstate(invalid="ignore"):  # a step that no run reaches has no factor
        return np.asarray(np.hypot(factor * np.sqrt(np.sum(moved[:-1] ** 2, axis=0)), Z95 * moved[-1]))


def lag_of(instrument: Instrument) -> float:
    """Root mean square of the lag of the signal behind the sample, by the priors [s]: not known to be corrected, so counted from 0."""
    return float(np.sqrt(np.sum(instrument.lag_means) ** 2 + np.sum(np.square(instrument.lag_errors)))) if instrument.lags else 0.0


def cut(runs: Sequence[Run], alpha: Array, instrument: Instrument) -> Steps:
    """Steps of three runs or more at ascending degrees of cure (k,)."""
    E = isoconversional(runs, "vyazovkin", alpha).E.copy()
    count = len(alpha)
    ends = crossings(runs, alpha).time
    time = np.stack([_inside(run, ends[i]) for i, run in enumerate(runs)])
    T = np.stack([np.interp(time[i], run.t, run.T) for i, run in enumerate(runs)])
    T_mid, ln_J, counts = np.full(count, np.nan), np.full(count, np.nan), np.zeros(count)
    moved_E, moved_ln_J = np.zeros((len(runs) + 1, count)), np.zeros((len(runs) + 1, count))
    beta = np.array([run.heating_rate for run in runs])
    late = lag_of(instrument)
    for k in np.flatnonzero(np.isfinite(E)):
        place = slice(0, FIRST) if k == 0 else slice(FIRST + (k - 1) * INNER, FIRST + k * INNER)
        there = np.flatnonzero(np.isfinite(time[:, place]).all(axis=1))
        if np.ptp(1.0 / T[there, place.stop - 1]) < ALIKE:
            E[k] = np.nan
            continue
        counts[k] = len(there)
        T_mid[k] = 1.0 / np.mean(1.0 / T[there, place.stop - 1])
        y, u = _integral(time[there, place], T[there, place], float(E[k]), float(T_mid[k]))
        ln_J[k] = y.mean()
        off = _off(y, u)
        for i, delta in zip(there, off, strict=True):
            moved_E[i, k], moved_ln_J[i, k] = _moved(u, delta)
        # A sample that is late by s is colder by beta s than its record says.
        moved_E[-1, k], moved_ln_J[-1, k] = _moved(u, late * E[k] / GAS_CONSTANT * beta[there] / T[there, place.stop - 1] ** 2)
    found = Steps(alpha, E, E, E, T_mid, ln_J, moved_E, moved_ln_J, counts)
    half = half_width(moved_E, found.factor)
    return replace(found, low=E - half, high=E + half)


def _inside(run: Run, ends: Array) -> Array:
    """(FIRST + (k - 1) INNER,) times within the steps that end there."""
    begin = float(run.t[0]) - run.lost
    share = np.linspace(0.0, 1.0, INNER)
    # Points of the first step crowd at its end, where a ramp is warm.
    first = begin + (ends[0] - begin) * (1.0 - np.linspace(1.0, 0.0, FIRST) ** 2)
    rest = (ends[:-1, None] + np.diff(ends)[:, None] * share).ravel()
    return np.concatenate([first, rest])


def _integral(time: Array, T: Array, E: float, T_mid: float) -> tuple[Array, Array]:
    """(n,) ln J, and -d(ln J)/dE [mol/J]."""
    x = (1.0 / T - 1.0 / T_mid) / GAS_CONSTANT
    speed = np.exp(-E * x)
    J = scipy.integrate.trapezoid(speed, time, axis=1)
    return np.log(J), np.asarray(scipy.integrate.trapezoid(speed * x, time, axis=1) / J)


def _off(y: Array, u: Array) -> Array:
    """(n, n) diagonal: by how much each run is off what the others say of it."""
    n = len(y)
    centred = u - u.mean()
    spread = float(centred @ centred)
    leverage = 1.0 / n + centred**2 / spread
    return np.diag((y - y.mean()) / np.maximum(1.0 - leverage, 1e-3))


def _moved(u: Array, delta: Array) -> tuple[float, float]:
    """How E and the mean of ln J move when ln J of the runs is less by delta (n,)."""
    centred = u - u.mean()
    dE = -float(centred @ delta) / float(centred @ centred)
    return dE, -float(delta.mean()) - float(u.mean()) * dE
