"""Zero-order heat release without depletion: what theories of thermal explosion are about."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure import CureError
from libcure.validation import resin_variant

R, TA = 8.31446261815324, 300.0
K_REF = 1e-14  # [1/s], so small that conversion stays nil


@cache
def zero_order(epsilon: float) -> libcure.Resin:
    """A resin that releases heat at K_REF whatever its cure, with R Ta/E = epsilon."""

    def quantity(value: float, unit: str) -> dict[str, Any]:
        return {"value": value, "unit": unit, "basis": "assumption", "source": "none", "where": "check"}

    return resin_variant(
        "polyurethane-winkler-2009",
        {
            "rate": {
                "law": "nth-order",
                "n": quantity(0, "1"),
                "k": {
                    "k_ref": quantity(K_REF, "1/s"),
                    "E": quantity(R * TA / epsilon, "J/mol"),
                    "T_ref": quantity(TA, "K"),
                },
            }
        },
    )


def excess(
    geometry: str,
    layer: Mapping[str, Any],
    surface: Mapping[str, Any],
    heat: float,
    epsilon: float,
    times: np.ndarray,
    tolerance: float,
) -> np.ndarray | None:
    """Innermost temperature (T - Ta) E/(R Ta^2) at times; None when the body ran away.

    Args:
        heat: dimensionless heat release, delta or psi.
        tolerance: of a step, in the same unit of temperature.
    """
    unit = TA * epsilon
    try:
        T, _ = libcure.solve_wall(
            geometry,
            0.0,
            [dict(layer)],
            {"kind": "insulated"},
            dict(surface),
            np.full(layer["cells"], TA),
            times,
            zero_order(epsilon),
            0,
            heat * unit / K_REF,
            0.0,
            (tolerance * unit, 1e-9),
        )
    except CureError as error:
        if not hasattr(error, "time_reached_s"):
            raise
        return None
    theta = (T[:, 0] - TA) / unit
    return None if theta[-1] > 4.0 else theta


def threshold(low: float, high: float, width: float, runs_away: Callable[[float], bool]) -> float:
    """Where a body begins to run away, between low and high, by bisection to a width."""
    while high - low > width:
        middle = (low + high) / 2
        if runs_away(middle):
            high = middle
        else:
            low = middle
    return (low + high) / 2


def vanishing(at_small: np.ndarray | None, at_double: np.ndarray | None) -> float:
    """A value extrapolated linearly to epsilon = 0 from two epsilons, the second twice the first."""
    return float("nan") if at_small is None or at_double is None else float(2 * at_small[0] - at_double[0])
