"""Time to a degree of cure at another temperature or programme, without a law.

The steps' J, means of the runs, are passed through again at the programme asked for: integral of exp(-E_k/RT) dt over step k
equals J_k (S. Vyazovkin, J. Comput. Chem. 22 (2001) 178; at one temperature the sum of J_k exp(E_k/RT), Thermochim. Acta 520 (2011)
1, section 4). Bands: what each run is off moves all its steps at once; the times are solved again with it, and likewise with the
instrument's lag (steps.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.fitting.model_free.steps import GAS_CONSTANT, Steps, half_width
from libcure.fitting.quantiles import Z95

__all__ = ["Forecast", "Programme", "forecast"]

Array = NDArray[np.float64]
FINE = 4000  # points of a programme between its ends


@dataclass(frozen=True)
class Programme:
    """Temperatures to foretell the cure for."""

    id: str
    time: Array
    """(p,) ascending from 0 [s]; one point: held at its temperature for good"""
    T: Array
    """(p,) [K], straight between them"""

    @property
    def held(self) -> bool:
        return len(self.time) == 1

    @property
    def shown(self) -> str:
        """In words."""
        C = self.T - 273.15
        if self.held:
            return f"held at {C[0]:g} °C"
        return f"{C[0]:g} to {C[-1]:g} °C in {self.time[-1] / 60.0:g} min" + (f", {len(C)} points" if len(C) > 2 else "")


@dataclass(frozen=True)
class Forecast:
    """Times to degrees of cure along a programme; NaN where it ends before, or runs do not reach."""

    programme: Programme
    alpha: Array
    """(k,)"""
    time: Array
    low: Array
    high: Array
    """(k,) with its 95 % interval [s]; infinite where the runs set no limit"""

    def at(self, alpha: float) -> tuple[float, float, float]:
        """Time and interval at a degree of cure [s]; NaN beyond what is told."""
        if not len(self.alpha):
            return np.nan, np.nan, np.nan
        return tuple(float(np.interp(alpha, self.alpha, values, left=np.nan, right=np.nan))  # type: ignore[return-value]
                     for values in (self.time, self.low, self.high))


def forecast(steps: Steps, programme: Programme, off: Array | None = None) -> Forecast:
    """What the steps foretell.

    Args:
        off: (k,) by how much ln of the times may miss because several steps mix otherwise (mixture.py); one standard deviation.
    """
    told = steps.told
    # Runs that hardly tell E may leave a time without a limit.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        time = _times(steps, programme, steps.E[:told], steps.ln_J[:told])
        moved = np.stack([
            _times(steps, programme, steps.E[:told] + dE[:told], steps.ln_J[:told] + d[:told])
            for dE, d in zip(steps.moved_E, steps.moved_ln_J, strict=True)
        ])
        half = half_width(np.log(moved / time), np.maximum.accumulate(steps.factor[:told]))
        if off is not None:
            known = np.zeros(told)
            known[: len(off)] = np.nan_to_num(off[:told])
            half = half + Z95 * known  # a bias, which no run scatters by, is not squared with what they do
        return Forecast(programme, steps.alpha[:told], time, time * np.exp(-half), time * np.exp(half))


def _times(steps: Steps, programme: Programme, E: Array, ln_J: Array) -> Array:
    """(k,) [s]"""
    x = E / GAS_CONSTANT
    T_mid = steps.T_mid[: len(E)]
    if programme.held:
        return np.cumsum(np.exp(ln_J + x * (1.0 / programme.T[0] - 1.0 / T_mid)))
    t = np.union1d(programme.time, np.linspace(programme.time[0], programme.time[-1], FINE))
    inverse = 1.0 / np.interp(t, programme.time, programme.T)
    out, now = np.full(len(E), np.nan), float(t[0])
    for k in range(len(E)):
        speed = np.exp(-x[k] * (inverse - 1.0 / T_mid[k]))
        passed = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(t) * (speed[1:] + speed[:-1]))])
        wanted = float(np.interp(now, t, passed) + np.exp(ln_J[k]))
        if wanted > passed[-1]:
            break
        out[k] = now = float(np.interp(wanted, passed, t))
    return out
