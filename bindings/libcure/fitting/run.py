"""A run of a calorimeter after its baseline, and findings about it. Inside everything is SI."""

from __future__ import annotations

import os
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from libcure import _core, rendering
from libcure.documents.frames import WithFrames
from libcure.fitting.record import ZERO_CELSIUS

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Finding", "Run", "processed", "recounted", "reprocessed", "smooth", "trapezia"]

Array = NDArray[np.float64]
Severity = Literal["warning", "note"]


@dataclass(frozen=True)
class Finding:
    """A plain statement about the data or the fit. What forbids a fit is an error instead."""

    severity: Severity
    code: str
    about: str
    """A run, a law, or empty."""
    message: str

    def __str__(self) -> str:
        return f"{self.about}: {self.message}" if self.about else self.message


@dataclass
class Run(WithFrames):
    """A run after its baseline; everything a fit or a figure needs."""

    id: str
    time: Array
    """(n,) of the whole record [s]"""
    temperature: Array
    """(n,) [K]"""
    heat_flow: Array
    """(n,) exothermic, upwards [W/kg]"""
    heating_rate: float
    """[K/s]; 0 for an isothermal run."""
    baseline: str
    windows: tuple[float, float, float, float]
    """Ends of the left and of the right window [s]."""
    part: slice
    """The points between the outer ends of the windows."""
    heat: float
    """Above the baseline [J/kg]."""
    total_heat: float | None
    """Heat that alpha is counted on when it is not the run's own [J/kg]."""
    rate: Array
    """(part,) d(alpha)/dt [1/s]"""
    alpha: Array
    """(part,) [-]"""
    basis: Array
    """(part, 4) of the baseline."""
    functionals: Array
    """(4, part): means and slopes of the windows."""
    noise: float
    """Standard deviation of the white noise in ``heat_flow`` [W/kg]."""
    programme_tolerance: float
    """How far the temperature may stray from its piecewise linear programme [K]."""
    findings: list[Finding] = field(default_factory=list)
    on_ramps: bool = False
    """``total_heat`` is that of the ramps, as a law completes it."""
    lost: float = 0.0
    """Time that an isothermal sample has reacted before its record begins, as fitted so far [s]"""
    law_rate: Array | None = None
    """(part,) of the law fitted so far [1/s]"""

    @property
    def dynamic(self) -> bool:
        return self.heating_rate > 0.0

    @property
    def on(self) -> float:
        """Heat that alpha is counted on [J/kg]."""
        return self.heat if self.total_heat is None else self.total_heat

    @property
    def truncated(self) -> str:
        """Which part of a ramp its record lacks: ``start``, ``tail`` or nothing."""
        return {"tangent-after": "start", "tangent-before": "tail"}.get(self.baseline, "")

    @property
    def t(self) -> Array:
        """(part,) [s]"""
        return self.time[self.part]

    @property
    def T(self) -> Array:
        """(part,) [K]"""
        return self.temperature[self.part]

    @property
    def drawn_baseline(self) -> Array:
        """(part,) [W/kg]"""
        return np.asarray(self.basis @ (self.functionals @ self.heat_flow[self.part]))

    @property
    def peak(self) -> float:
        """Temperature of the greatest rate [K], by a parabola through the points above 95 % of it."""
        even = smooth(self.rate, max(len(self.rate) // 200, 1))
        top = int(np.argmax(even))
        near = np.flatnonzero(even > 0.95 * even[top])
        near = near[(near >= top - len(self.rate) // 20) & (near <= top + len(self.rate) // 20)]
        if len(near) < 5:
            return float(self.T[top])
        a, b, _ = np.polyfit(self.T[near] - self.T[top], self.rate[near], 2)
        return float(self.T[top] - b / (2.0 * a)) if a < 0.0 else float(self.T[top])

    def to_dataframe(self) -> pd.DataFrame:
        """The whole record in rows; baseline, rate and degree of cure where they are drawn, NaN elsewhere."""
        import pandas as pd

        def placed(part: Array) -> Array:
            found = np.full(len(self.time), np.nan)
            found[self.part] = part
            return found

        return pd.DataFrame({
            "time_min": self.time / 60.0, "temperature_C": self.temperature - ZERO_CELSIUS, "heat_flow_W_g": self.heat_flow / 1e3,
            "baseline_W_g": placed(self.drawn_baseline / 1e3), "rate_1_s": placed(self.rate), "alpha": placed(self.alpha),
        })  # fmt: skip

    def plot(self, path: str | os.PathLike[str] | None = None) -> Figure:
        """The record with its baseline; with a path also written (.png, .svg, .pdf)."""
        return rendering.draw_to(self, path)

    @property
    def programme(self) -> str:
        """How it was heated, in words."""
        return f"{60.0 * self.heating_rate:.4g} K/min" if self.dynamic else "isothermal"

    def __repr__(self) -> str:
        return f"<Run {self.id!r}: {self.programme}, {len(self.t)} of {len(self.time)} points, {self.heat / 1e3:.1f} J/g>"

    def _repr_html_(self) -> str:
        return rendering.html(self)

    def thinned(self, points: int) -> Run:
        """The run with blocks of points averaged to about so many; the windows stay where they are."""
        block = max(len(self.t) // points, 1)
        if block == 1:
            return self

        def mean(x: Array) -> Array:
            n = len(x) // block
            return np.asarray(x[: n * block].reshape(n, block).mean(axis=1))

        time, temperature, heat_flow = mean(self.time), mean(self.temperature), mean(self.heat_flow)
        # The programme must still begin and end where the record does.
        time[0], temperature[0] = self.time[0], self.temperature[0]
        time[-1], temperature[-1] = self.time[-1], self.temperature[-1]
        return processed(replace(self, time=time, temperature=temperature, heat_flow=heat_flow,
                                noise=self.noise / np.sqrt(block)))


def smooth(x: Array, width: int) -> Array:
    width = 2 * (width // 2) + 1
    padded = np.pad(x, width // 2, mode="edge")
    return np.convolve(padded, np.ones(width) / width, mode="valid")


def processed(run: Run) -> Run:
    """The run with its baseline drawn, from its windows."""
    w = run.windows
    first = int(np.searchsorted(run.time, w[0]))
    last = int(np.searchsorted(run.time, w[3], side="right"))
    part = slice(first, last)
    r = _core.fit.subtract_baseline(run.baseline, run.time[part], run.heat_flow[part], w)
    on = run.total_heat if run.total_heat is not None else r["heat"]
    return replace(run, part=part, heat=r["heat"], rate=r["heat_flow"] / on, alpha=r["released"] / on, basis=r["basis"],
                   functionals=r["functionals"])


def trapezia(run: Run) -> Array:
    """(points,) weights of an integral over time [s]"""
    steps = np.diff(run.t)
    ends = np.zeros(len(run.t))
    ends[:-1] += 0.5 * steps
    ends[1:] += 0.5 * steps
    return ends


def recounted(run: Run, heat: float) -> Run:
    """A run that counts on the ramps' heat, with that heat [J/kg]; other runs as they are."""
    return processed(replace(run, total_heat=heat)) if run.on_ramps else run


def reprocessed(run: Run, heat_flow: Array) -> Run:
    """The run with another heat flow [W/kg]: its baseline drawn and its heat counted again."""
    return processed(replace(run, heat_flow=heat_flow))
