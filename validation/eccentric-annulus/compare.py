from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure.validation import Comparison

SOURCE = "Incropera et al. 2007"
BORE, OUTSIDE, K, T_IN, T_OUT = 0.044, 0.060, 0.5, 320.0, 280.0
OFF = (0.0, 0.0015, 0.006, 0.010)
TOLERANCE = {0.0: 1e-6, 0.0015: 2e-4, 0.006: 2e-4, 0.010: 1e-3}


def exact(off: float) -> float:
    """Heat [W/m] by the shape factor."""
    D, d = 2 * OUTSIDE, 2 * BORE
    shape = 2 * np.pi / np.arccosh((D**2 + d**2 - 4 * off**2) / (2 * D * d))
    return float(shape * K * (T_IN - T_OUT))


@cache
def solved(off: float, n: int) -> float:
    """Heat [W/m] by the section solver, n columns on half the pipe and n rows."""
    edge = np.linspace(0.0, np.pi, n + 1)
    angle = (edge[1:] + edge[:-1]) / 2
    inner = off * np.cos(angle) + np.sqrt(BORE**2 - (off * np.sin(angle)) ** 2)
    return 2 * libcure.heat.steady_heat_around(edge, inner, OUTSIDE - inner, K, n, T_IN, T_OUT)


@cache
def compare() -> list[Comparison]:
    rows = [
        Comparison(SOURCE, f"heat, {1e3 * off:g} mm off centre", exact(off), solved(off, 32), "W/m",
            TOLERANCE[off] * exact(off), "closed form")
        for off in OFF
    ]  # fmt: skip
    error = [abs(solved(0.006, n) - exact(0.006)) for n in (8, 16, 32)]
    order = float(np.log2(error[0] / error[2]) / 2)
    rows.append(Comparison(SOURCE, "order in the cell width, 6 mm off centre", 2.0, order, "1", 0.1, "closed form"))
    return rows


def figure(fig: Any) -> None:
    ax = fig.subplots()
    off = np.linspace(0.0, 0.0125, 200)
    ax.plot(1e3 * off, [exact(x) for x in off], lw=1, label="shape factor")
    ax.plot([1e3 * x for x in OFF], [solved(x, 32) for x in OFF], "o", ms=4, mfc="none", label="section solver")
    ax.set(xlabel="distance of the centres [mm]", ylabel="heat [W/m]")
    ax.legend(fontsize=7, frameon=False)
