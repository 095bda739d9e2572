"""Isothermal runs that stop short of what ramps foretell: what a chemical step cannot do, and diffusion control does.

A ramp passes its own glass transition and hardly sees it; a run held below the final one comes to rest. So three ramps or more
foretell the run by their E(alpha) alone, and what its end lacks of the late edge of that forecast, beyond drift and mass, is no
chemistry. Own rule; that diffusion shows as a departure from isoconversional behaviour: S. Vyazovkin, N. Sbirrazzuoli, Macromol.
Rapid Commun. 27 (2006) 1515, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from libcure.fitting.covariance import correlation_length
from libcure.fitting.instrument import Instrument
from libcure.fitting.model_free.forecast import Programme, forecast
from libcure.fitting.model_free.steps import Steps
from libcure.fitting.run import Run

__all__ = ["Stall", "drift_of", "stalls"]

SHORT = 0.08  # degree of cure that baselines of ramps and their cut tails may be off; own choice
SOME, SEVERAL = 0.6, 2  # of its error by which a run is short, and runs; together as sure as so many are by their whole error; own choice
UNSTEADY = 0.15  # degree of cure that a drift may move, from which the end of a run says nothing; own choice
TAIL = 0.3  # of an isothermal run, over which its drift is read


@dataclass(frozen=True)
class Stall:
    """A run that stopped short."""

    run: str
    T: float
    """[K]"""
    ended: float
    """Degree of cure at its end"""
    foretold: float
    """Least by which the ramps have it then"""


def drift_of(run: Run) -> float:
    """How far the final degree of cure of an isothermal run may be off if its signal has drifted along a straight line: by
    the slope of its last part, and two standard errors of that."""
    t, rate = run.t, run.rate
    last = t > t[-1] - TAIL * (t[-1] - t[0])
    x = t[last] - t[last].mean()
    slope = float(x @ rate[last] / (x @ x))
    rest = rate[last] - rate[last].mean() - slope * x
    error = float(np.sqrt(rest @ rest / max(len(x) - 2, 1) * correlation_length(rest) / (x @ x)))
    return 0.5 * (abs(slope) + 2.0 * error) * float(t[-1] - t[0]) ** 2


def stalls(ramps: Steps, held: Sequence[Run], instrument: Instrument) -> list[Stall]:
    """Those of isothermal runs, where there are several: a drift may take one. ``ramps``: steps of the ramps alone."""
    found: list[tuple[float, Stall]] = []
    for run in held:
        T, drift = float(np.median(run.T)), drift_of(run)
        told = forecast(ramps, Programme(run.id, np.zeros(1), np.array([T])))
        if drift > UNSTEADY or not np.isfinite(told.high).any():
            continue
        late = np.maximum.accumulate(np.nan_to_num(told.high, nan=np.inf, posinf=np.inf))
        by_then = float(np.max(told.alpha[late <= run.t[-1] - run.t[0]], initial=0.0))
        ended = float(run.alpha[-1])
        error = float(np.sqrt(SHORT**2 + drift**2 + (2.0 * instrument.mass * ended) ** 2))
        found.append(((by_then - ended) / error, Stall(run.id, T, ended, by_then)))
    short = [one for over, one in found if over > SOME]
    sure = sum(over for over, _ in found) > SEVERAL**0.5 * len(found) ** 0.5
    return short if len(short) >= SEVERAL and sure else []
