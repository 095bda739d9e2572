"""Activation energies without a rate law, for a set of runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure import _core
from libcure.errors import input_error
from libcure.fitting.records import Finding, Run

__all__ = ["METHODS", "EnergyCurve", "Isoconversional", "PeakEnergy", "e698", "isoconversional", "isoconversional_analysis", "kissinger"]

Array = NDArray[np.float64]
METHODS = ("friedman", "kas", "vyazovkin")
VARIES = 0.2  # share of its mean over which E may vary before one step is in doubt (ICTAC 2011, from memory: 10-20 %)


@dataclass(frozen=True)
class PeakEnergy:
    """What a peak method gives."""

    E: float
    """[J/mol]"""
    half_width: float
    """Of its 95 % interval [J/mol]; NaN with two runs."""
    A: float
    """[1/s]"""
    r_squared: float


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
class Isoconversional:
    """Activation energies of a set of runs, by peak and isoconversional methods."""

    heating_rates: Array
    """[K/s] of the ramps"""
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


def kissinger(heating_rate: ArrayLike, peak: ArrayLike) -> PeakEnergy:
    """E and A from peak temperatures [K] at heating rates [K/s], by Kissinger (1957).

    Raises:
        CureError: fewer than two, or peaks that do not rise with the rate.
    """
    r = _core.fit.kissinger(np.asarray(heating_rate, float), np.asarray(peak, float))
    return PeakEnergy(r["E"], r["half_width"], r["A"], r["r_squared"])


def e698(heating_rate: ArrayLike, peak: ArrayLike) -> PeakEnergy:
    """The same by the Ozawa/Flynn-Wall line with the iterated correction, as ASTM E698 does."""
    r = _core.fit.e698(np.asarray(heating_rate, float), np.asarray(peak, float))
    return PeakEnergy(r["E"], r["half_width"], r["A"], r["r_squared"])


def isoconversional(runs: Sequence[Run], method: str = "vyazovkin", alpha: ArrayLike | None = None) -> EnergyCurve:
    """E over alpha by ``friedman``, ``kas`` or ``vyazovkin`` (advanced, non-linear)."""
    at: Array = np.asarray(np.arange(1, 20) * 0.05 if alpha is None else alpha, np.float64)
    if at.ndim != 1 or not len(at) or np.any(np.diff(at) <= 0) or at[0] <= 0 or at[-1] >= 1:
        raise input_error("alpha", "not ascending inside (0, 1)", "ascending degrees of cure between 0 and 1")
    records = [(run.t, run.T, run.alpha, run.rate, run.heating_rate) for run in runs]
    return EnergyCurve(method, at, *_core.fit.isoconversional(method, records, at))


def isoconversional_analysis(runs: Sequence[Run]) -> Isoconversional:
    """Everything that can be said without a law."""
    ramps = sorted((run for run in runs if run.dynamic), key=lambda run: run.heating_rate)
    beta, peaks = np.array([run.heating_rate for run in ramps]), np.array([run.peak for run in ramps])
    findings: list[Finding] = []
    k = e = None
    if len(np.unique(np.round(beta, 6))) >= 2:
        try:
            k, e = kissinger(beta, peaks), e698(beta, peaks)
        except ValueError as error:
            findings.append(Finding("warning", "peaks", "activation energy", f"peak methods do not apply: {error}."))
    if len(ramps) < 3:
        findings.append(Finding("warning", "few_ramps", "activation energy", f"{len(ramps)} heating rates; three to five, "
                                "spread over a factor of ten, are wanted before E is believed."))
    elif beta[-1] / beta[0] < 3.0:
        findings.append(Finding("warning", "narrow_rates", "activation energy",
                                f"the heating rates span a factor of {beta[-1] / beta[0]:.1f} only: E is poorly "
                                "known. Add a slower ramp."))
    curves = [isoconversional(runs, method) for method in METHODS] if len(runs) >= 3 else []
    if curves and np.isfinite(curves[-1].variation) and curves[-1].variation > VARIES:
        c = curves[-1]
        findings.append(Finding("warning", "E_varies", "activation energy", f"E varies by {100 * c.variation:.0f} % of its "
                                "mean over the reaction: more than one step, or diffusion, is at work. Kissinger and "
                                "E698, which know one step, do not describe it."))
    return Isoconversional(beta, peaks, k, e, curves, findings)
