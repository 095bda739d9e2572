"""What a fit is told and what it finds: gel times, options, a law with its constants, profiles, runs left out."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure import _core, rendering
from libcure.documents.frames import WithFrames
from libcure.errors import input_error
from libcure.fitting.checks import outliers
from libcure.fitting.instrument import Estimate, Instrument, systematic_heat
from libcure.fitting.laws import FitLaw, Parameter
from libcure.fitting.least_squares import Solution, correlation
from libcure.fitting.quantiles import Z95, student
from libcure.fitting.run import Run

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["GelTime", "HeldOut", "LawFit", "Options", "Profile", "heat_of_ramps", "ramps_with_heat"]

Array = NDArray[np.float64]


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
    instrument: Instrument = field(default_factory=Instrument)
    """What instrument and samples may have done to the runs"""


@dataclass
class LawFit(WithFrames):
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
    squares_cups: float
    """Of the gel times' residuals, over their errors"""
    count: int
    """Residuals that the criteria count: rates and gel times"""
    same_minimum: int
    """How many of the starts ended at this minimum"""
    starts: int
    solution: Solution
    instrument: Instrument
    """Priors of instrument and samples"""
    lags: Array
    """(2,) time constant of the signal and thermal lag, as fitted [s]; empty where they are not"""
    lag_covariance: Array
    """(2, 2) of them [s²]; (0, 0) where they are not fitted"""
    lag_pull: Array
    """(p, 2): how the constants would move with the lags held elsewhere, by second"""
    off: list[list[Estimate]]
    """By run: what may be off in it, at these constants"""
    aicc: float = np.nan
    bic: float = np.nan
    """By as many points as are independent (selection.py)"""
    weight: float = np.nan
    """Of the law among those compared (selection.py); they add up to 1"""

    @property
    def point(self) -> Array:
        """Free parameters and lags, where a search goes on."""
        return np.concatenate([self.x, self.lags])

    @property
    def free_parameters(self) -> list[Parameter]:
        """(p,) what ``x`` are."""
        return [self.law.parameters[i] for i in self.law.free]

    @property
    def errors(self) -> Array:
        """(p,) standard errors of ``x``; infinite where the data say so little that round-off makes a variance negative."""
        return _root(np.diag(self.covariance))

    @property
    def lag_errors(self) -> Array:
        """(2,) standard errors of the lags [s], likewise; empty where they are not fitted."""
        return _root(np.diag(self.lag_covariance))

    @property
    def lag_sum_error(self) -> float:
        """Standard error of the sum of the lags [s], likewise."""
        return float(_root(np.sum(self.lag_covariance)))

    @property
    def heat_half_width(self) -> float:
        """Of the heat's 95 % interval [J/kg]: the scatter of so many ramps by Student's t, and what baselines may be off in all
        of them alike; NaN with fewer than two."""
        ramps = ramps_with_heat(self.runs, self.curves)
        if len(ramps) < 2:
            return np.nan
        alike = float(np.mean([systematic_heat(self.runs[i], self.instrument) for i in ramps])) * self.heat
        return float(np.hypot(student(len(ramps) - 1) * self.heat_error, Z95 * alike))

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


def _root(variance: ArrayLike) -> Array:
    known = np.asarray(variance, np.float64)
    return np.sqrt(np.where(known >= 0.0, known, np.inf))


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


def ramps_with_heat(runs: Sequence[Run], curves: Sequence[tuple[Array, Array, float]]) -> list[int]:
    """Numbers of the ramps that tell the heat of reaction; those whose heat stands out do not."""
    odd = outliers(runs)
    return [i for i, run in enumerate(runs) if run.dynamic and not run.truncated and run.id not in odd and curves[i][2] > _core.fit.least_share]


def heat_of_ramps(runs: Sequence[Run], curves: Sequence[tuple[Array, Array, float]]) -> tuple[float, float]:
    """Heat of reaction and its standard error [J/kg]."""
    heats = [runs[i].heat / curves[i][2] for i in ramps_with_heat(runs, curves)]
    if not heats:
        return np.nan, np.nan
    error = float(np.std(heats, ddof=1) / np.sqrt(len(heats))) if len(heats) > 1 else np.nan
    return float(np.mean(heats)), error
