"""What a measurement is, and how its object in a document is read.

A measurement has components, such as gel time and peak of a cup: each an observed value on a scale on which its error is normal but
for some stray ones (ln of a time, a temperature, a share), and the standard deviation of that error. The defaults are assumptions but
for those with a source; a document may state others by ``sd``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.documents.part import Part

__all__ = ["NEVER", "ZERO", "Ask", "Component", "Floats", "Made", "Measurement", "Reading", "grid", "time_to"]

Floats = NDArray[np.float64]
ZERO = 273.15
NEVER = 12.0
"""ln of the time [min] that stands for never: some hundred days. Never and a stated time are then far apart, but finitely."""

@dataclass(frozen=True)
class Component:
    """One number of a measurement."""

    name: str
    observed: float
    """On its scale: ln of minutes, K, or the value itself."""
    sd: float
    unit: str
    """``min`` or a unit, of a value whose ln is observed; ``°C`` of one observed in K; empty of a share."""
    side: int = 0
    """0: it was seen; -1: it had come by then, no later; 1: it had not come yet."""

    def words(self, value: float) -> str:
        """A value on the scale, as people say it."""
        if self.side and value == self.observed:
            return f"{'by' if self.side < 0 else 'not before'} {replace(self, side=0).words(value)}"
        if self.unit == "°C":
            return f"{value - ZERO:.0f} °C"
        if not self.unit:
            return f"{value:.2f}"
        if self.unit != "min":
            return f"{math.exp(value):.3g} {self.unit}"
        minutes = math.exp(min(value, NEVER))
        if value >= NEVER - 0.5:
            return "never"
        return f"{minutes:.3g} min" if minutes < 600.0 else f"{minutes / 60.0:.3g} h"


Ask = Callable[[_core.Resin, float], Sequence[float]]
"""What a resin would show, a number a component, on its scale; the second argument multiplies the heat loss of a cup."""


@dataclass(frozen=True)
class Measurement:
    """One measurement of a study."""

    name: str
    kind: str
    components: tuple[Component, ...]
    ask: Ask
    hold_back: bool
    cup: str
    """Kind of cup, whose heat loss is unknown; empty of all else."""
    temperature_C: float
    """At which the resin was, for what a model has been seen at."""
    cost_min: float
    """How long it takes."""


def time_to(met: NDArray[np.bool_], t: Floats, value: Floats, target: float) -> float:
    """ln of the time [min] from which a rising value stays at its target; :data:`NEVER` when not.

    Args:
        met: (n,) whether the target is met.
        t: (n,) times [s], the first above 0.
        value: (n,), of which the crossing is interpolated in ln t.
    """
    late = np.flatnonzero(~met)
    i = 0 if late.size == 0 else int(late[-1]) + 1
    if i >= t.size:
        return NEVER
    if i == 0:
        return math.log(t[0] / 60.0)
    low, high = value[i - 1], value[i]
    share = 1.0 if high <= low else min(max((target - low) / (high - low), 0.0), 1.0)
    return float(np.log(t[i - 1] / 60.0) + share * np.log(t[i] / t[i - 1]))


def grid(last_s: float, first_s: float = 20.0) -> Floats:
    """Times [s] that are dense early, (240,)."""
    return np.geomspace(first_s, max(last_s, 4.0 * first_s), 240)


class Reading:
    """One object of the list ``measurements``."""

    def __init__(self, fields: Part, beside: Path) -> None:
        self.f, self.beside = fields, beside

    def __contains__(self, key: str) -> bool:
        """Whether a temperature is given, in °C or °F."""
        return f"{key}_C" in self.f or f"{key}_F" in self.f

    def temperature(self, key: str) -> float:
        """[K], from ``key_C`` or ``key_F``."""
        f = self.f
        return (float(f[f"{key}_F"]) - 32.0) / 1.8 + ZERO if f"{key}_F" in f else float(f[f"{key}_C"]) + ZERO

    def time(self) -> float:
        """[min], from ``time_min`` or ``time_h``."""
        return float(60.0 * self.f["time_h"] if "time_h" in self.f else self.f["time_min"])

    def sd(self, usual: float, key: str = "sd") -> float:
        """Standard deviation of the observation on its scale; of ``usual`` when the document states none."""
        return float(self.f.get(key, usual))

    def side(self) -> int:
        """Of ``seen``: whether a time is that of the event, or only on one side of it."""
        return {"then": 0, "by": -1, "not before": 1}[self.f["seen"]]

    def gone(self, T: float, minutes: float) -> Callable[[_core.Resin], float]:
        """Degree of cure after some time at T."""
        return lambda resin: float(resin.isothermal(np.array([T]), np.array([60.0 * minutes]), resin.initial_degree_of_cure)[0, 0])


Made = tuple[list[Component], Ask, float, float]
"""Components, what to ask, temperature [°C], how long it takes [min]."""
