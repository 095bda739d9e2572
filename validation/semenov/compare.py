from __future__ import annotations

from functools import cache
from math import e
from pathlib import Path
from typing import Any

import numpy as np
from scipy.special import lambertw

from libcure.validation import Comparison, load_script

explosion = load_script(Path(__file__).parents[1] / "thermal_explosion.py")
WAIT = 600.0
# h, thickness and heat capacity are 1: time is in cooling times.
LAYER = {"name": "mass", "thickness": 1.0, "conductivity": 1e9, "density": 1.0, "specific_heat": 1.0, "cells": 1}


def excess(psi: float, epsilon: float, times: np.ndarray) -> np.ndarray | None:
    """(T - Ta) E/(R Ta^2) at times; None when the mass ran away."""
    surface = {"kind": "convection", "h": 1.0, "temperature": explosion.TA}
    theta: np.ndarray | None = explosion.excess("slab", LAYER, surface, psi, epsilon, times, 1e-5)
    return theta


@cache
def critical(epsilon: float) -> float:
    """Critical psi."""
    return float(
        explosion.threshold(
            0.8 / e, 1.2 / e, 1e-5, lambda psi: excess(psi, epsilon, np.array([WAIT])) is None
        )
    )


@cache
def compare() -> list[Comparison]:
    psi = 2 * critical(0.0025) - critical(0.005)
    rows = [Comparison("Semenov 1928", "critical heat production", 1 / e, psi, "1", 0.002 / e, "closed form")]
    for share in (0.5, 0.9):
        exact = float(-lambertw(-share / e).real)
        theta = [excess(share / e, epsilon, np.array([100.0])) for epsilon in (0.0025, 0.005)]
        limit = explosion.vanishing(*theta)
        rows.append(
            Comparison(
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
