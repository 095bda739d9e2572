"""Models of one reaction step that the master plots are held against: f and its integral form g, d(alpha)/dt = A exp(-E/RT) f(alpha).

Codes and formulas: table 1 of S. Vyazovkin et al., Thermochim. Acta 520 (2011) 1, written down from memory; the orders F2 and F3
are not in that table and follow by integration. That g' = 1/f is tested for each.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["STANDARD", "StandardModel"]

Array = NDArray[np.float64]
Form = Callable[[Array], Array]


@dataclass(frozen=True)
class StandardModel:
    """One reaction step."""

    code: str
    title: str
    f: Form
    """Differential form, of the degree of cure [-]"""
    g: Form
    """Integral form: integral of 1/f from 0"""

    def __reduce__(self) -> tuple[Callable[[str], StandardModel], tuple[str]]:
        # By its code: functions without a name cannot be pickled, nor hence a study that holds one.
        return _coded, (self.code,)


def _coded(code: str) -> StandardModel:
    return next(model for model in STANDARD if model.code == code)


def _order(n: int) -> tuple[Form, Form]:
    return (lambda a: (1.0 - a) ** n), (lambda a: ((1.0 - a) ** (1 - n) - 1.0) / (n - 1))


def _power(k: float) -> tuple[Form, Form]:
    return (lambda a: k * a ** (1.0 - 1.0 / k)), (lambda a: a ** (1.0 / k))


def _avrami(k: int) -> tuple[Form, Form]:
    return (lambda a: k * (1.0 - a) * (-np.log1p(-a)) ** (1.0 - 1.0 / k)), (lambda a: (-np.log1p(-a)) ** (1.0 / k))


def _contracting(k: int) -> tuple[Form, Form]:
    return (lambda a: k * (1.0 - a) ** (1.0 - 1.0 / k)), (lambda a: 1.0 - (1.0 - a) ** (1.0 / k))


STANDARD: tuple[StandardModel, ...] = (
    StandardModel("P4", "power law", *_power(4.0)),
    StandardModel("P3", "power law", *_power(3.0)),
    StandardModel("P2", "power law", *_power(2.0)),
    StandardModel("P2/3", "power law", *_power(2.0 / 3.0)),
    StandardModel("D1", "one-dimensional diffusion", lambda a: 0.5 / a, lambda a: a**2),
    StandardModel("F1", "first order (Mampel)", lambda a: 1.0 - a, lambda a: -np.log1p(-a)),
    StandardModel("A4", "nucleation and growth (Avrami-Erofeev)", *_avrami(4)),
    StandardModel("A3", "nucleation and growth (Avrami-Erofeev)", *_avrami(3)),
    StandardModel("A2", "nucleation and growth (Avrami-Erofeev)", *_avrami(2)),
    StandardModel("D3", "three-dimensional diffusion (Jander)", lambda a: 1.5 * (1.0 - a) ** (2.0 / 3.0) / (1.0 - (1.0 - a) ** (1.0 / 3.0)),
                  lambda a: (1.0 - (1.0 - a) ** (1.0 / 3.0)) ** 2),
    StandardModel("R3", "contracting sphere", *_contracting(3)),
    StandardModel("R2", "contracting cylinder", *_contracting(2)),
    StandardModel("D2", "two-dimensional diffusion", lambda a: -1.0 / np.log1p(-a), lambda a: (1.0 - a) * np.log1p(-a) + a),
    StandardModel("F2", "second order", *_order(2)),
    StandardModel("F3", "third order", *_order(3)),
)  # fmt: skip
