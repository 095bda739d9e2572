"""Activation energies without a rate law, for a set of runs."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure import _core, rendering
from libcure.documents.frames import WithFrames
from libcure.errors import input_error
from libcure.fitting.run import Finding, Run

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["METHODS", "EnergyCurve", "Isoconversional", "Peak", "PeakEnergy", "e698", "isoconversional", "isoconversional_analysis", "kissinger"]

Array = NDArray[np.float64]
METHODS = ("friedman", "kas", "vyazovkin")
COLDEST = 250.0  # K, as in the core: nothing that is cured reacts measurably below
FASTEST, FAST = 500.0 / 60.0, 1.0  # K/s: no ramp of the fit document is faster, and not all of a set are as fast; no source


@dataclass(frozen=True)
class Peak:
    """Where the heat flow of a ramp was greatest."""

    heating_rate: float
    """[K/s]"""
    temperature: float
    """[K]"""


@dataclass(frozen=True)
class PeakEnergy:
    """What a peak method gives."""

    E: float
    """[J/mol]"""
    half_width: float
    """Of its 95 % interval, by Student's t [J/mol]; NaN with two runs."""
    A: float
    """[1/s]"""
    r_squared: float

    @property
    def text(self) -> str:
        """The energy with its interval, for people."""
        half = f"± {self.half_width / 1e3:.1f} kJ/mol" if np.isfinite(self.half_width) else "kJ/mol (two peaks: no interval)"
        return f"{self.E / 1e3:.1f} {half}"


@dataclass(frozen=True)
class EnergyCurve:
    """Activation energy over degree of cure; NaN where fewer than three runs reach it."""

    method: str
    alpha: Array
    E: Array
    """[J/mol]"""
    low: Array
    high: Array
    """95 % band [J/mol]"""

    @property
    def mean(self) -> float:
        """Over alpha from 0.1 to 0.9 [J/mol]"""
        inside = (self.alpha >= 0.1 - 1e-9) & (self.alpha <= 0.9 + 1e-9) & np.isfinite(self.E)
        return float(np.mean(self.E[inside])) if inside.any() else float("nan")

    @property
    def variation(self) -> float:
        """Greatest less least E over alpha from 0.1 to 0.9, over the mean"""
        inside = (self.alpha >= 0.1 - 1e-9) & (self.alpha <= 0.9 + 1e-9) & np.isfinite(self.E)
        return float(np.ptp(self.E[inside]) / self.mean) if inside.any() else float("nan")


@dataclass(frozen=True)
class Isoconversional(WithFrames):
    """Activation energies of a set of runs, by peak and isoconversional methods."""

    heating_rates: Array
    """[K/s] of the ramps, and of further peaks"""
    peaks: Array
    """[K]"""
    kissinger: PeakEnergy | None
    e698: PeakEnergy | None
    curves: list[EnergyCurve]
    findings: list[Finding]

    @property
    def E(self) -> float | None:
        """The energy to start a fit around [J/mol]"""
        for curve in reversed(self.curves):
            if np.isfinite(curve.mean) and 10e3 < curve.mean < 400e3:
                return curve.mean
        return self.kissinger.E if self.kissinger is not None else None

    @property
    def by_peaks(self) -> dict[str, PeakEnergy]:
        """What the peak methods give, by their names."""
        found = {"Kissinger": self.kissinger, "ASTM E698": self.e698}
        return {name: one for name, one in found.items() if one is not None}

    def to_dataframe(self) -> pd.DataFrame:
        """E over the degree of cure with its 95 % band, by method; NaN where fewer than three runs reach it."""
        import pandas as pd

        columns = ["method", "alpha", "E_kJ_mol", "low_kJ_mol", "high_kJ_mol"]
        rows = [(c.method, *row) for c in self.curves for row in zip(c.alpha, c.E / 1e3, c.low / 1e3, c.high / 1e3, strict=True)]
        return pd.DataFrame(rows, columns=columns)

    def plot(self, path: str | os.PathLike[str] | None = None) -> Figure:
        """Peak lines, and E over the degree of cure; with a path also written (.png, .svg, .pdf)."""
        return rendering.draw_to(self, path)

    def __repr__(self) -> str:
        said = [f"{name} {one.text}" for name, one in self.by_peaks.items()]
        said += [f"{c.method} {c.mean / 1e3:.1f} kJ/mol" for c in self.curves]
        return f"<Isoconversional: {len(self.peaks)} heating rates{''.join(', ' + one for one in said)}>"

    def _repr_html_(self) -> str:
        return rendering.html(self)


def kissinger(heating_rate: ArrayLike, peak: ArrayLike) -> PeakEnergy:
    """E and A from peak temperatures [K] at heating rates [K/s], by Kissinger (1957).

    Raises:
        CureError: fewer than two, peaks that do not rise with the rate, or numbers that look like K/min or °C.
    """
    return _solved(_core.fit.kissinger, *_in_si(heating_rate, peak))


def e698(heating_rate: ArrayLike, peak: ArrayLike) -> PeakEnergy:
    """The same by the Ozawa/Flynn-Wall line with the iterated correction, as ASTM E698 does."""
    return _solved(_core.fit.e698, *_in_si(heating_rate, peak))


def _in_si(heating_rate: ArrayLike, peak: ArrayLike) -> tuple[Array, Array]:
    """Both as arrays.

    Raises:
        CureError: they look like K/min or °C.
    """
    beta, peaks = np.asarray(heating_rate, np.float64), np.asarray(peak, np.float64)
    wrong = {"heating_rate": _looks_like_minutes(beta), "peak": _looks_like_celsius(peaks)}
    if any(wrong.values()):
        raise input_error(" and ".join(name for name, said in wrong.items() if said), "; ".join(filter(None, wrong.values())),
                          "heating rates in K/s and temperatures in K")
    return beta, peaks


def _solved(method: Callable[[Array, Array], dict[str, float]], beta: Array, peaks: Array) -> PeakEnergy:
    r = method(beta, peaks)
    return PeakEnergy(r["E"], r["half_width"], r["A"], r["r_squared"])


def _looks_like_minutes(beta: Array) -> str:
    """What is said of heating rates that are no K/s; empty when they may be."""
    known = beta[np.isfinite(beta)]
    if known.size and (known.max() > FASTEST or known.min() >= FAST):
        return (f"{', '.join(f'{b:g}' for b in known[:6])} K/s, which would be {60.0 * known.max():g} K/min; these look like K/min: "
                "divide by 60")
    return ""


def _looks_like_celsius(T: Array) -> str:
    """What is said of temperatures that are no K; empty when they may be."""
    known = T[np.isfinite(T)]
    if known.size and known.min() < COLDEST:
        return f"{', '.join(f'{t:g}' for t in known[:6])} K, colder than any cure; these look like °C: add 273.15"
    return ""


def _checked(runs: Sequence[Run]) -> None:
    """Refuses runs made by hand in other units than K/s and K.

    Raises:
        CureError: one looks like K/min or °C.
    """
    for run in runs:
        said = _looks_like_minutes(np.array([run.heating_rate])) if run.heating_rate > FASTEST else ""
        middle = run.T[(run.alpha > 0.4) & (run.alpha < 0.6)]
        said = said or _looks_like_celsius(middle)
        if said:
            raise input_error(f"run {run.id}", said, "heating rates in K/s and temperatures in K")


def isoconversional(runs: Sequence[Run], method: str = "vyazovkin", alpha: ArrayLike | None = None) -> EnergyCurve:
    """E over alpha by ``friedman``, ``kas`` or ``vyazovkin`` (advanced, non-linear).

    Raises:
        CureError: degrees of cure not ascending, or runs whose numbers look like K/min or °C.
    """
    at: Array = np.asarray(np.arange(1, 20) * 0.05 if alpha is None else alpha, np.float64)
    if at.ndim != 1 or not len(at) or np.any(np.diff(at) <= 0) or at[0] <= 0 or at[-1] >= 1:
        raise input_error("alpha", "not ascending inside (0, 1)", "ascending degrees of cure between 0 and 1")
    _checked(runs)
    records = [(run.t, run.T, run.alpha, run.rate, run.heating_rate) for run in runs]
    return EnergyCurve(method, at, *_core.fit.isoconversional(method, records, at))


def isoconversional_analysis(runs: Sequence[Run], peaks: Sequence[Peak] = ()) -> Isoconversional:
    """Everything that can be said without a law.

    Args:
        peaks: of further ramps, of which no record is at hand.

    Raises:
        CureError: numbers that look like K/min or °C.
    """
    _checked(runs)
    known = sorted([(run.heating_rate, run.peak) for run in runs if run.dynamic] + [(p.heating_rate, p.temperature) for p in peaks])
    beta, T = np.array([rate for rate, _ in known]), np.array([at for _, at in known])
    findings: list[Finding] = []
    k = e = None
    if len(np.unique(np.round(beta, 6))) >= 2:
        try:
            k, e = _solved(_core.fit.kissinger, beta, T), _solved(_core.fit.e698, beta, T)
        except ValueError as error:
            findings.append(Finding("warning", "peaks", "activation energy", f"peak methods do not apply: {error}."))
    if k is not None and len(known) == 2:
        findings.append(Finding("warning", "no_interval", "activation energy", "two peaks give an energy by Kissinger and E698, and "
                                "no interval: how far it may be off is not known. Add a third heating rate."))
    if len(known) < 3:
        findings.append(Finding("warning", "few_ramps", "activation energy", f"{len(known)} heating rates; three to five, "
                                "spread over a factor of ten, are wanted before E is believed."))
    elif beta[-1] / beta[0] < 3.0:
        findings.append(Finding("warning", "narrow_rates", "activation energy",
                                f"the heating rates span a factor of {beta[-1] / beta[0]:.1f} only: E is poorly "
                                "known. Add a slower ramp."))
    curves = [isoconversional(runs, method) for method in METHODS] if len(runs) >= 3 else []
    return Isoconversional(beta, T, k, e, curves, findings)
