"""Master plots: y(alpha) and z(alpha) of the runs against the standard models.

With one E for the whole reaction, y = (d alpha/dt) exp(E/RT) goes as f, and z = y theta, with the generalised time theta =
integral of exp(-E/RT) dt, as f g, along any programme; both are taken over their value at alpha = 0.5 (F.J. Gotor, J.M. Criado,
J. Malek, N. Koga, J. Phys. Chem. A 104 (2000) 10777; from memory). They say nothing where E varies: see the verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.fitting.model_free.standard_models import STANDARD, StandardModel
from libcure.fitting.model_free.steps import GAS_CONSTANT, Crossings
from libcure.fitting.quantiles import student
from libcure.fitting.run import Run

__all__ = ["INSIDE", "Distance", "MasterPlots", "master_plots"]

Array = NDArray[np.float64]
INSIDE = (0.1, 0.9)  # degrees of cure over which models are compared; the ends hang on baselines
HALF = 0.5


@dataclass(frozen=True)
class Distance:
    """How far a model is from the runs."""

    model: StandardModel
    y: float
    """Root mean square difference over alpha 0.1 to 0.9, over the root mean square of the model's curve"""
    z: float

    @property
    def both(self) -> float:
        return float(np.hypot(self.y, self.z) / np.sqrt(2.0))


@dataclass(frozen=True)
class MasterPlots:
    """Experimental y and z over their value at 0.5, mean of the runs, and the standard models by distance."""

    E: float
    """They rest on [J/mol]"""
    alpha: Array
    """(k,)"""
    y: Array
    z: Array
    """(k,)"""
    y_band: Array
    z_band: Array
    """(k,) half widths of 95 % intervals of the means, by the scatter of the runs"""
    nearest: list[Distance]
    """Nearest first"""

    @property
    def y_top(self) -> float:
        """Degree of cure at which y is greatest: 0 (the first of the plot) says that the rate only falls."""
        return float(self.alpha[int(np.argmax(self.y))])

    @property
    def rises(self) -> bool:
        """Whether y is greatest after its begin, by more than the runs scatter: the reaction starts itself."""
        top = int(np.argmax(self.y))
        return bool(top > 0 and self.y[top] - self.y[0] > np.hypot(self.y_band[top], self.y_band[0]))


def scaled(model: StandardModel, alpha: Array) -> tuple[Array, Array]:
    """A model's f and f g over their value at 0.5."""
    half = np.array([HALF])
    f, g = model.f(alpha), model.g(alpha)
    f_half, g_half = model.f(half), model.g(half)
    return f / f_half, f * g / (f_half * g_half)


def master_plots(runs: Sequence[Run], at: Crossings, E: float) -> MasterPlots:
    """Of runs at degrees of cure that hold 0.5; those runs that stop before are left out."""
    half = int(np.argmin(np.abs(at.alpha - HALF)))
    T_half = float(np.nanmean(at.T[:, half]))
    y = at.rate * np.exp(E / GAS_CONSTANT * (1.0 / at.T - 1.0 / T_half))
    z = y * np.stack([_generalised(run, time, E, T_half) for run, time in zip(runs, at.time, strict=True)])
    y, z = y / y[:, [half]], z / z[:, [half]]
    whole = np.isfinite(y[:, half])
    y, z = y[whole], z[whole]
    inside = (at.alpha > INSIDE[0] - 1e-9) & (at.alpha < INSIDE[1] + 1e-9)
    with np.errstate(invalid="ignore"):
        y_mean, z_mean = np.nanmean(y, axis=0), np.nanmean(z, axis=0)
    inside &= np.isfinite(y_mean)
    found = []
    for model in STANDARD:
        f, fg = scaled(model, at.alpha)
        found.append(Distance(model, _apart(y_mean[inside], f[inside]), _apart(z_mean[inside], fg[inside])))
    return MasterPlots(E, at.alpha, y_mean, z_mean, _band(y), _band(z), sorted(found, key=lambda d: d.both))


def _generalised(run: Run, time: Array, E: float, T_half: float) -> Array:
    """theta at times, over exp(-E/(R T_half)) [s]."""
    speed = np.exp(-E / GAS_CONSTANT * (1.0 / run.T - 1.0 / T_half))
    theta = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(run.t) * (speed[1:] + speed[:-1]))]) + run.lost * speed[0]
    return np.asarray(np.interp(time, run.t, theta))


def _apart(found: Array, wanted: Array) -> float:
    return float(np.sqrt(np.mean((found - wanted) ** 2) / np.mean(wanted**2)))


def _band(values: Array) -> Array:
    n = np.isfinite(values).sum(axis=0)
    factor = np.array([student(int(count) - 1) if count > 1 else np.nan for count in n])
    rest = values - np.nanmean(values, axis=0)
    return np.asarray(factor * np.sqrt(np.nansum(rest**2, axis=0) / np.maximum(n - 1, 1)) / np.sqrt(np.maximum(n, 1)))
