from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from libcure import CureError, _core
from libcure.validation import Row, resin_variant

R, TA, CELLS, WAIT = 8.31446261815324, 300.0, 60, 150.0
K_REF = 1e-14  # [1/s], so small that conversion stays nil
PUBLISHED = {"slab": 0.878458, "cylinder": 2.0, "sphere": 3.321992}
# Size, conductivity and heat capacity are 1: time is r^2/a.
LAYER = {"name": "body", "thickness": 1.0, "conductivity": 1.0, "density": 1.0, "specific_heat": 1.0, "cells": CELLS}


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


def centre(geometry: str, delta: float, epsilon: float, times: np.ndarray) -> np.ndarray | None:
    """Centre temperature (T - Ta) E/(R Ta^2) at times [r^2/a]; None when the body ran away."""
    unit, resin = TA * epsilon, zero_order(epsilon)
    try:
        T, _ = _core.solve_wall(
            geometry,
            0.0,
            [LAYER],
            {"kind": "insulated"},
            {"kind": "temperature", "time": [0.0], "value": [TA]},
            np.full(CELLS, TA),
            times,
            resin,
            0,
            delta * unit / K_REF,
            0.0,
            (1e-4 * unit, 1e-9),
        )
    except CureError as error:
        if not hasattr(error, "time_reached_s"):
            raise
        return None
    theta = (T[:, 0] - TA) / unit
    return None if theta[-1] > 4.0 else theta


@cache
def critical(geometry: str, epsilon: float) -> float:
    low, high = 0.9 * PUBLISHED[geometry], 1.1 * PUBLISHED[geometry]
    while high - low > 4e-4 * low:
        middle = (low + high) / 2
        if centre(geometry, middle, epsilon, np.array([WAIT])) is None:
            high = middle
        else:
            low = middle
    return (low + high) / 2


@cache
def compare() -> list[Row]:
    rows = []
    for geometry, delta in PUBLISHED.items():
        limit = 2 * critical(geometry, 0.0025) - critical(geometry, 0.005)
        rows.append(
            Row("Frank-Kamenetskii", f"critical delta, {geometry}", delta, limit, "1", 0.004 * delta, "closed form")
        )
    # Below the critical value the cylinder has a closed form: delta = 8B/(1+B)^2, centre 2 ln(1+B).
    for B in (0.2, 0.5):
        delta = 8 * B / (1 + B) ** 2
        theta = [centre("cylinder", delta, epsilon, np.array([30.0])) for epsilon in (0.0025, 0.005)]
        limit = float("nan") if theta[0] is None or theta[1] is None else float(2 * theta[0][0] - theta[1][0])
        rows.append(
            Row(
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
