"""Combined kinetic analysis: one E and f = c alpha^m (1 - alpha)^n of all runs at once.

m and n are what makes ln[(d alpha/dt) / (alpha^m (1 - alpha)^n)] straightest over 1/T, by the greatest correlation
(L.A. Perez-Maqueda, J.M. Criado, P.E. Sanchez-Jimenez, J. Phys. Chem. A 110 (2006) 12456; from memory). The greatest correlation is
that of a regression of 1/T on ln(d alpha/dt), ln alpha and ln(1 - alpha), so nothing is searched. Errors: the jackknife over runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.fitting.model_free.steps import GAS_CONSTANT, Crossings
from libcure.fitting.quantiles import student

__all__ = ["CombinedAnalysis", "combined_analysis"]

Array = NDArray[np.float64]
KEYS = ("E_kJ_mol", "ln_cA_1_s", "m", "n")


@dataclass(frozen=True)
class CombinedAnalysis:
    """E [J/mol], ln of c A [1/s], m, n, with 95 % intervals."""

    E: float
    ln_cA: float
    m: float
    n: float
    half_width: tuple[float, float, float, float]
    """Of each, in that order"""
    correlation: float
    """Of the straight line, -1 to 1"""
    misfit: float
    """Root mean square distance of the points from it, as a share of the rate"""

    @property
    def rows(self) -> list[tuple[str, float, float, float]]:
        """Of each constant: key with its unit outside, value and half width inside, factor to the outside."""
        return list(zip(KEYS, (self.E, self.ln_cA, self.m, self.n), self.half_width, (1e-3, 1.0, 1.0, 1.0), strict=True))


def combined_analysis(at: Crossings) -> CombinedAnalysis | None:
    """Of runs at degrees of cure; None with fewer than three runs, or with all of them at one programme."""
    points = [_columns(at, i) for i in range(len(at.T))]
    points = [one for one in points if len(one)]
    if len(points) < 3:
        return None
    rows = np.vstack(points)
    best = _straightest(rows)
    if best is None:
        return None
    without = [_straightest(np.vstack(points[:i] + points[i + 1 :])) for i in range(len(points))]
    spread = np.array([one for one in without if one is not None])
    freedom = len(spread) - 1
    half = (student(freedom) * np.sqrt(freedom / len(spread) * np.sum((spread - spread.mean(axis=0)) ** 2, axis=0))
            if freedom > 0 else np.full(4, np.inf))
    E, ln_cA, m, n = best
    straight = rows[:, 1] - m * rows[:, 2] - n * rows[:, 3]
    rest = straight - ln_cA + E / GAS_CONSTANT * rows[:, 0]
    return CombinedAnalysis(E, ln_cA, m, n, (float(half[0]), float(half[1]), float(half[2]), float(half[3])),
                            float(np.corrcoef(rows[:, 0], straight)[0, 1]), float(np.sqrt(np.mean(rest**2))))


def _columns(at: Crossings, i: int) -> Array:
    """(points, 4) 1/T, ln rate, ln alpha, ln(1 - alpha) of a run."""
    good = np.isfinite(at.T[i]) & (at.rate[i] > 0.0)
    a = at.alpha[good]
    return np.column_stack([1.0 / at.T[i, good], np.log(at.rate[i, good]), np.log(a), np.log1p(-a)])


def _straightest(rows: Array) -> tuple[float, float, float, float] | None:
    x, rest = rows[:, 0] - rows[:, 0].mean(), rows[:, 1:] - rows[:, 1:].mean(axis=0)
    weights, _, rank, _ = np.linalg.lstsq(rest, x, rcond=None)
    if rank < 3 or weights[0] == 0.0:
        return None
    m, n = -weights[1] / weights[0], -weights[2] / weights[0]
    y = rows[:, 1] - m * rows[:, 2] - n * rows[:, 3]
    slope = float((x @ (y - y.mean())) / (x @ x))
    return -slope * GAS_CONSTANT, float(y.mean() - slope * rows[:, 0].mean()), float(m), float(n)
