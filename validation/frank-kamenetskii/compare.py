from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from libcure.validation import Comparison, load_script

explosion = load_script(Path(__file__).parents[1] / "thermal_explosion.py")
CELLS, WAIT = 60, 150.0
PUBLISHED = {"slab": 0.878458, "cylinder": 2.0, "sphere": 3.321992}
# Size, conductivity and heat capacity are 1: time is r^2/a.
LAYER = {"name": "body", "thickness": 1.0, "conductivity": 1.0, "density": 1.0, "specific_heat": 1.0, "cells": CELLS}


def centre(geometry: str, delta: float, epsilon: float, times: np.ndarray) -> np.ndarray | None:
    """Centre temperature (T - Ta) E/(R Ta^2) at times [r^2/a]; None when the body ran away."""
    surface = {"kind": "temperature", "time": [0.0], "value": [explosion.TA]}
    theta: np.ndarray | None = explosion.excess(geometry, LAYER, surface, delta, epsilon, times, 1e-4)
    return theta


@cache
def critical(geometry: str, epsilon: float) -> float:
    low, high = 0.9 * PUBLISHED[geometry], 1.1 * PUBLISHED[geometry]
    # To 4e-4 of the answer, from below it.
    return float(
        explosion.threshold(
            low, high, 4e-4 * low, lambda delta: centre(geometry, delta, epsilon, np.array([WAIT])) is None
        )
    )


@cache
def compare() -> list[Comparison]:
    rows = []
    for geometry, delta in PUBLISHED.items():
        limit = 2 * critical(geometry, 0.0025) - critical(geometry, 0.005)
        rows.append(
            Comparison("Frank-Kamenetskii", f"critical delta, {geometry}", delta, limit, "1", 0.004 * delta, "closed form")
        )
    # Below the critical value the cylinder has a closed form: delta = 8B/(1+B)^2, centre 2 ln(1+B).
    for B in (0.2, 0.5):
        delta = 8 * B / (1 + B) ** 2
        theta = [centre("cylinder", delta, epsilon, np.array([30.0])) for epsilon in (0.0025, 0.005)]
        limit = explosion.vanishing(*theta)
        rows.append(
            Comparison(
                "Frank-Kamenetskii",
                f"cylinder at delta = {delta:.4f}: centre",
                2 * np.log(1 + B),
                limit,
                "1",
                0.004,
                "closed form",
            )
        )
    return rows


def figure(fig: Any) -> None:
    axes = fig.subplots(1, 3, sharey=True)
    times = np.linspace(0, 12, 241)
    for ax, (geometry, delta) in zip(axes, PUBLISHED.items(), strict=True):
        for share in (0.7, 0.9, 0.98):
            theta = centre(geometry, share * delta, 0.0025, times)
            if theta is not None:
                ax.plot(times, theta, label=f"{share:g} of critical")
        # A run that runs away stops before its end: ever longer ones until it does.
        found = None
        for end in np.linspace(0.2, 12, 60):
            part = centre(geometry, 1.1 * delta, 0.0025, np.linspace(0, end, 100))
            if part is None:
                break
            found = np.linspace(0, end, 100), part
        if found:
            ax.plot(*found, "--", color="C3", label="1.1 of critical")
        ax.set(title=geometry, xlabel="time [r²/a]", ylim=(0, 4))
        ax.legend(fontsize=6, frameon=False)
    axes[0].set_ylabel("θ at the centre")
