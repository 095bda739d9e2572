from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure import zero_d
from libcure.validation import Comparison

R = 8.31446261815324
SOURCE = "J. Appl. Polym. Sci. 92, 1190 (2004)"
RESINS = ("epoxy-amine-fast", "epoxy-amine-medium", "epoxy-amine-slow", "epoxy-amine-mechanistic")
T = np.linspace(293.15, 333.15, 9)


@cache
def gel_times(name: str) -> np.ndarray:
    """[s]"""
    resin = libcure.load_resin(name)
    times = np.concatenate([[0.0], np.geomspace(1.0, 4e5, 20000)])
    alpha = zero_d.isothermal(resin, T, times)
    return np.array([np.interp(resin.alpha_gel, row, times) for row in alpha])


@cache
def compare() -> list[Comparison]:
    return [
        Comparison(SOURCE, f"energy of the gel time, 20 to 60 °C, {name}", 58.5,
            float(np.polyfit(1 / T, np.log(gel_times(name)), 1)[0]) * R / 1e3, "kJ/mol", 2.6, "calibration")
        for name in RESINS
    ]  # fmt: skip


def figure(fig: Any) -> None:
    ax = fig.subplots()
    for i, name in enumerate(RESINS):
        ax.semilogy(1e3 / T, gel_times(name) / 60, "o-", ms=3, color=f"C{i}", label=name)
        slope = np.exp(58.5e3 / R * (1 / T - 1 / T[4]))
        ax.semilogy(1e3 / T, gel_times(name)[4] / 60 * slope, "--", color=f"C{i}", lw=0.8)
    ax.set(xlabel="1000 / temperature [1/K]", ylabel="gel time of a thin film [min]\ndashed: 58.5 kJ/mol")
    ax.legend(fontsize=7, frameon=False)
