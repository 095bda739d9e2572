"""How far a forecast without a law may be off because several steps mix otherwise along another programme.

A forecast takes each degree of cure to be one state, whatever led to it. With several steps it is not: held warm, more of one step and
less of another makes the same degree. So two independent steps of order n are fitted to where the runs reach degrees of cure,

    alpha = s a + (1 - s) b,  a = 1 - (1 + (n - 1) k theta)^(1/(1 - n)),  theta = integral of exp(-E/R (1/T - 1/T_ref)) dt,

the method is applied to their curves along the runs' own programmes, and what it misses of their true times is taken for one standard
deviation of what it misses of the resin's. Own way; that the method is not exact for such reactions: S. Vyazovkin et al., Thermochim.
Acta 520 (2011) 1, section 3, from memory. The steps are no model: they serve for the size of that error alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from libcure.fitting.instrument import Instrument
from libcure.fitting.model_free.forecast import FINE, Programme, forecast
from libcure.fitting.model_free.steps import GAS_CONSTANT, Steps, crossings, cut
from libcure.fitting.run import Run
from libcure.stopping import heed

__all__ = ["Mixture", "mixture"]

Array = NDArray[np.float64]
AT: Array = np.linspace(0.05, 0.95, 19)  # degrees of cure compared
POINTS = 300  # of a run while constants are searched
ENERGIES, ORDERS = (20e3, 250e3), (0.3, 4.0)  # J/mol
SLOW = 12.0  # of ln k about what the runs tell
SPREADS = ((0.8, 1.2), (1.2, 0.8), (0.65, 1.1))  # of the two E over their mean, where a search starts: the first step is the faster one
SCALE: Array = np.array([1.0, 1e4, 0.5, 1.0, 1e4, 0.5, 1.0])  # ln k, E and order of both, and the share
NEARBY = 11  # steps of 0.02, in whose middle one stands
LATEST = 3.2e9  # s, a hundred years


@dataclass(frozen=True)
class Mixture:
    """Two steps side by side, and what the method makes of their curves along the runs."""

    T_ref: float
    """[K]"""
    x: Array
    """(7,) ln k at T_ref, E [J/mol] and order of both steps, ln of the odds of the first one's share"""
    seen: Steps
    """By the method"""

    def off(self, programme: Programme) -> Array:
        """(k,) size of ln of the steps' times over those of the method, the greatest nearby; NaN where either has none."""
        told = forecast(self.seen, programme)
        time = np.concatenate([[0.0], np.geomspace(0.1, LATEST, FINE)]) if programme.held else np.union1d(
            programme.time, np.linspace(programme.time[0], programme.time[-1], FINE))
        T = np.full(len(time), programme.T[0]) if programme.held else np.interp(time, programme.time, programme.T)
        alpha = cured(self.x, self.T_ref, time[None], T[None])[0]
        with np.errstate(divide="ignore", invalid="ignore"):
            off = np.abs(np.log(np.interp(told.alpha, alpha, time, right=np.nan) / told.time))
        # Where it changes its sign is not known as well as how large it is.
        return np.where(np.isfinite(off), scipy.ndimage.maximum_filter1d(np.nan_to_num(off, posinf=0.0), NEARBY, mode="nearest"), np.nan)


def cured(x: Array, T_ref: float, time: Array, T: Array) -> Array:
    """(n, k) degree of cure of two steps along times and temperatures (n, k) that begin uncured."""
    share = 1.0 / (1.0 + np.exp(-x[6]))
    steps = 0.5 * np.diff(time, axis=1)
    inverse = (1.0 / T - 1.0 / T_ref) / GAS_CONSTANT
    total = np.zeros_like(T)
    for ln_k, E, n, part in ((*x[:3], share), (*x[3:6], 1.0 - share)):
        k = np.exp(np.clip(ln_k - E * inverse, -300.0, 50.0))
        theta = np.zeros_like(T)
        np.cumsum(steps * (k[:, 1:] + k[:, :-1]), axis=1, out=theta[:, 1:])
        order = n if abs(n - 1.0) > 1e-4 else 1.0001
        total += part * (1.0 - np.maximum(1.0 + (order - 1.0) * theta, 0.0) ** (1.0 / (1.0 - order)))
    return total


def mixture(shaped_by: Sequence[Run], steps: Steps, runs: Sequence[Run], alpha: Array, instrument: Instrument) -> Mixture | None:
    """Of a reaction that may have more than one step; None where E is not known.

    Args:
        shaped_by: runs that the steps are fitted to; a drift moves the late part of an isothermal one.
        steps: of these runs, with E.
        runs: those behind forecasts.
        alpha: degrees of cure of the forecasts.
    """
    E = steps.E[np.isfinite(steps.E)]
    if len(E) < len(AT) // 2:
        return None
    time, T, place = _grid(shaped_by)
    half = int(np.argmin(np.abs(steps.alpha - 0.5)))
    T_ref = float(steps.T_mid[half]) if np.isfinite(steps.T_mid[half]) else float(np.nanmean(steps.T_mid))
    there = np.isfinite(place)
    mean = float(np.mean(E))
    fast = -float(np.log(np.nansum(np.exp(steps.ln_J[: half + 1]))))

    def misfit(x: Array) -> Array:
        heed()
        found = cured(x, T_ref, time, T)
        at = np.stack([np.interp(np.where(ok, when, 0.0), t, a) for t, a, when, ok in zip(time, found, place, there, strict=True)])
        return np.asarray((at - AT)[there])

    low = np.array([*[fast - SLOW, ENERGIES[0], ORDERS[0]] * 2, -4.0])
    high = np.array([*[fast + SLOW, ENERGIES[1], ORDERS[1]] * 2, 4.0])
    ends = [scipy.optimize.least_squares(misfit, np.clip([fast + 0.7, mean * a, 1.2, fast - 0.7, mean * b, 1.2, 0.0], low + 1e-3 * SCALE, high - 1e-3 * SCALE),
                          bounds=(low, high), x_scale=SCALE, ftol=1e-6, xtol=1e-6, max_nfev=40) for a, b in SPREADS]
    x = np.asarray(min(ends, key=lambda end: float(end.cost)).x)
    return Mixture(T_ref, x, cut([_as_cured(run, x, T_ref) for run in runs], alpha, instrument))


def _grid(runs: Sequence[Run]) -> tuple[Array, Array, Array]:
    """Times and temperatures (n, POINTS) of runs from their begin on, closest where they cure, and (n, k) times at which they reach `AT`."""
    place = crossings(runs, AT).time
    time = np.empty((len(runs), POINTS))
    for i, run in enumerate(runs):
        begin, end = float(run.t[0]) - run.lost, float(np.nanmax(place[i], initial=run.t[0] + 1.0))
        # Half of them evenly, half by the degree of cure.
        most = np.maximum.accumulate(run.alpha)
        up = np.concatenate([[True], np.diff(most) > 0.0])
        cure = np.interp(np.linspace(0.0, float(np.interp(end, run.t, most)), POINTS // 2), most[up], run.t[up])
        time[i] = np.sort(np.concatenate([np.linspace(begin, end, POINTS - POINTS // 2), cure]))
    return time, np.stack([np.interp(t, run.t, run.T) for t, run in zip(time, runs, strict=True)]), place


def _as_cured(run: Run, x: Array, T_ref: float) -> Run:
    """The run with the curve of two steps in the place of its own."""
    T = run.T
    before = run.lost > 0.0
    t = np.concatenate([[run.t[0] - run.lost], run.t]) if before else run.t
    alpha = cured(x, T_ref, t[None], np.concatenate([T[:1], T])[None] if before else T[None])[0]
    alpha = alpha[1:] if before else alpha
    return replace(run, alpha=alpha, rate=np.gradient(alpha, run.t))
