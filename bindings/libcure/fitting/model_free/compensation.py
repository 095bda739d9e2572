"""A over the degree of cure by the compensation effect.

Standard models, right or wrong, fitted to the rate of one ramp give pairs ln A_j, E_j on a line ln A = a E + b; the isoconversional
E(alpha) put into it gives ln A(alpha) (S. Vyazovkin, C.A. Wight, Annu. Rev. Phys. Chem. 48 (1997) 125; S. Vyazovkin et al.,
Thermochim. Acta 520 (2011) 1, section 6; from memory). The mean of the ramps' lines is used. Of the standard models F1 and A2 to A4 serve:
for truths of order 0.6 to 1.5, A2, A3 they leave ln A within 0.15 of the truth, all models together within 0.8 (own trial, 1 to 20
K/min). A belongs to an f of about 1 - alpha; a model with another factor before its f has another A.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.fitting.model_free.master import INSIDE
from libcure.fitting.model_free.standard_models import STANDARD
from libcure.fitting.model_free.steps import GAS_CONSTANT, Crossings, Steps
from libcure.fitting.quantiles import student

__all__ = ["Compensation", "compensation"]

Array = NDArray[np.float64]
SERVING = ("F1", "A2", "A3", "A4")
STRAIGHT = 0.98  # correlation of ln A over E, below which models say nothing of A; own choice


@dataclass(frozen=True)
class Compensation:
    """ln A over the degree of cure [ln 1/s]."""

    slope: float
    """Mean of the ramps [mol/J]"""
    intercept: float
    correlation: float
    """Least of the ramps"""
    alpha: Array
    ln_A: Array
    low: Array
    high: Array
    """(k,) with 95 % band: E's, and the scatter of the ramps' lines"""


def compensation(at: Crossings, dynamic: Array, steps: Steps) -> Compensation | None:
    """From ramps (n,) at degrees of cure, and E by step; None with fewer than two ramps, or where models are on no line."""
    lines = [line for line in (_line(at, int(i)) for i in np.flatnonzero(dynamic)) if line is not None]
    if len(lines) < 2:
        return None
    found = np.array(lines)
    a, b, _ = found.mean(axis=0)
    ln_A = a * steps.E + b
    each = found[:, [0]] * steps.E + found[:, [1]]
    scatter = student(len(lines) - 1) * each.std(axis=0, ddof=1) / np.sqrt(len(lines))
    half = np.hypot(scatter, a * (steps.high - steps.low) / 2.0)
    return Compensation(float(a), float(b), float(found[:, 2].min()), steps.alpha, ln_A, ln_A - half, ln_A + half)


def _line(at: Crossings, i: int) -> tuple[float, float, float] | None:
    """Slope, intercept and correlation of ln A over E of one ramp."""
    a = at.alpha
    good = (a > INSIDE[0]) & (a < INSIDE[1]) & np.isfinite(at.T[i]) & (at.rate[i] > 0.0)
    if good.sum() < 5:
        return None
    x, pairs = 1.0 / at.T[i, good], []
    for model in (one for one in STANDARD if one.code in SERVING):
        slope, ln_A = np.polyfit(x, np.log(at.rate[i, good] / model.f(a[good])), 1)
        pairs.append((-GAS_CONSTANT * slope, ln_A))
    E, ln_A = np.array(pairs).T
    slope, intercept = np.polyfit(E, ln_A, 1)
    r = float(np.corrcoef(E, ln_A)[0, 1])
    return (float(slope), float(intercept), r) if r > STRAIGHT else None
