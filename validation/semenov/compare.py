from __future__ import annotations

from functools import cache
from math import e
from typing import Any

import numpy as np
from scipy.special import lambertw

from libcure import CureError, _core
from libcure.validation import Row, resin_variant

R, TA, K_REF, WAIT = 8.31446261815324, 300.0, 1e-14, 600.0
# h, thickness and heat capacity are 1: time is in cooling times.
LAYER = {"name": "mass", "thickness": 1.0, "conductivity": 1e9, "density": 1.0, "specific_heat": 1.0, "cells": 1}


@cache
def zero_order(epsilon: float) -> _core.Resin:
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


def excess(psi: float, epsilon: float, times: np.ndarray) -> np.ndarray | None:
    """(T - Ta) E/(R Ta^2) at times; None when the mass ran away."""
    unit, resin = TA * epsilon, zero_order(epsilon)
    try:
        T, _ = _core.solve_wall(
            "slab",
            0.0,
            [LAYER],
            {"kind": "insulated"},
            {"kind": "convection", "h": 1.0, "temperature": TA},
            [TA],
            times,
            resin,
            0,
            psi * unit / K_REF,
            0.0,
            (1e-5 * unit, 1e-9),
        )
    except CureError as error:
        if not hasattr(error, "time_reached_s"):
            raise
        return None
    theta = (T[:, 0] - TA) / unit
    return None if theta[-1] > 4.0 else theta


@cache
def critical(epsilon: float) -> float:
    """Critical psi."""
    low, high = 0.8 / e, 1.2 / e
    while high - low > 1e-5:
        middle = (low + high) / 2
        if excess(middle, epsilon, np.array([WAIT])) is None:
            high = middle
        else:
            low = middle
    return (low + high) / 2


@cache
def compare() -> list[Row]:
    psi = 2 * critical(0.0025) - critical(0.005)
    rows = [Row("Semenov 1928", "critical heat production", 1 / e, psi, "1", 0.002 / e, "closed form")]
    for share in (0.5, 0.9):
        exact = float(-lambertw(-share / e).real)
        theta = [excess(share / e, epsilon, np.array([100.0])) for epsilon in (0.0025, 0.005)]
        limit = float("nan") if theta[0] is None or theta[1] is None else float(2 * theta[0][0] - theta[1][0])
        rows.append(
            Row(
                "Semenov 1928",
                f"excess temperature at {share:g} of the critical heat",
                exact,
                limit,
                "1",
                0.002,
                "closed form",
            )
        )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    times = np.linspace(0, 20, 200)
    for share in (0.5, 0.8, 0.95, 0.99):
        theta = excess(share / e, 0.0025, times)
        if theta is not None:
            left.plot(times, theta, label=f"{share:g} of critical")
    left.set(xlabel="time [cooling times]", ylabel="θ")
    left.legend(fontsize=7, frameon=False)
    theta = np.linspace(0, 3, 200)
    right.plot(theta, theta * np.exp(-theta), label="θ exp(−θ), exact")
    points = [(excess(s / e, 0.0025, np.array([100.0])), s / e) for s in np.linspace(0.1, 0.98, 12)]
    right.plot(
        [float(t[0]) for t, _ in points if t is not None],
        [p for t, p in points if t is not None],
        "o",
        mfc="none",
        label="settled masses",
    )
    right.axhline(1 / e, color="0.5", ls="--", lw=0.8)
    right.set(xlabel="θ", ylabel="ψ")
    right.legend(fontsize=7, frameon=False)
