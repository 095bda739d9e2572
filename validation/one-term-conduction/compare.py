from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import libcure
from libcure.validation import Comparison

HERE = Path(__file__).parent
CELLS = 200
# Size 1 m, conductivity 1, capacity 1: time is the Fourier number and h the Biot number.
LAYER = {"name": "body", "thickness": 1.0, "conductivity": 1.0, "density": 1.0, "specific_heat": 1.0, "cells": CELLS}


def centre(geometry: str, outer: dict[str, Any], Fo: list[float]) -> np.ndarray:
    """(T - T_medium)/(T_0 - T_medium) at the centre; body at 400 K, medium at 300 K."""
    T, _ = libcure.solve_wall(
        geometry, 0.0, [LAYER], {"kind": "insulated"}, outer, np.full(CELLS, 400.0), Fo, tolerance=(1e-7, 1e-6)
    )
    # Mean of the parabola through the first two nodes, taken to r = 0.
    r1, r2 = 0.5 / CELLS, 1.5 / CELLS
    return ((T[:, 0] * r2**2 - T[:, 1] * r1**2) / (r2**2 - r1**2) - 300.0) / 100.0


@cache
def one_term(geometry: str, Bi: float, zeta: float) -> tuple[float, float]:
    """zeta_1 and C_1 from two centre temperatures; `zeta` only sets the times."""
    first = max(1.0, 0.3 / zeta**2)  # the second term is below 1e-4 there
    times = [first, first + 1 / zeta**2]
    a, b = centre(geometry, {"kind": "convection", "h": Bi, "temperature": 300.0}, times)
    square = np.log(a / b) / (times[1] - times[0])
    return float(np.sqrt(square)), float(a * np.exp(square * first))


@cache
def compare() -> list[Comparison]:
    rows = []
    table = pd.read_csv(HERE / "table.csv")
    for geometry in ("slab", "cylinder", "sphere"):
        for Bi, zeta, C in table[["Bi [1]", f"{geometry} zeta1 [1]", f"{geometry} C1 [1]"]].itertuples(index=False):
            own = one_term(geometry, Bi, zeta)
            rows.append(
                Comparison("Cengel, Table 4-2", f"{geometry}, Bi {Bi:g}: zeta_1", zeta, own[0], "1", 5e-4, "closed form")
            )
            rows.append(Comparison("Cengel, Table 4-2", f"{geometry}, Bi {Bi:g}: C_1", C, own[1], "1", 5e-4, "closed form"))
    series = pd.read_csv(HERE / "series.csv")
    for geometry, group in series.groupby("geometry"):
        fixed = {"kind": "temperature", "time": [0.0], "value": [300.0]}
        own = centre(str(geometry), fixed, list(group["Fo [1]"]))
        for (_, Fo, theta), value in zip(group.itertuples(index=False), own, strict=True):
            rows.append(
                Comparison(
                    "Carslaw & Jaeger 1959",
                    f"{geometry}, fixed surface, Fo {Fo:g}: centre",
                    theta,
                    float(value),
                    "1",
                    1e-3,
                    "closed form",
                )
            )
    return rows


def figure(fig: Any) -> None:
    axes = fig.subplots(1, 3, sharey=True)
    table = pd.read_csv(HERE / "table.csv")
    for ax, geometry in zip(axes, ("slab", "cylinder", "sphere"), strict=True):
        for i, Bi in enumerate((0.5, 2.0, 10.0)):
            row = table[table["Bi [1]"] == Bi].iloc[0]
            zeta, C = row[f"{geometry} zeta1 [1]"], row[f"{geometry} C1 [1]"]
            Fo = np.linspace(0, 1.5, 61)
            ax.plot(
                Fo,
                centre(geometry, {"kind": "convection", "h": Bi, "temperature": 300.0}, list(Fo)),
                color=f"C{i}",
                label=f"Bi {Bi:g}",
            )
            ax.plot(Fo[8::6], C * np.exp(-(zeta**2) * Fo[8::6]), "o", color=f"C{i}", mfc="none", ms=3)
        ax.set(title=geometry, xlabel="Fo")
        ax.legend(fontsize=6, frameon=False)
    axes[0].set_ylabel("θ at the centre; circles: one-term table")
