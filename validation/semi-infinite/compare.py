from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from scipy.special import erfc, erfcx

import libcure
from libcure.validation import Comparison

K, DIFFUSIVITY, CELLS, H = 1.5, 6e-7, 400, 25.0
LAYER = {
    "name": "ground",
    "thickness": 2.0,
    "conductivity": K,
    "density": 1800.0,
    "specific_heat": K / DIFFUSIVITY / 1800.0,
    "cells": CELLS,
    "growth": 50.0,
}
TIMES = 3600.0 * np.array([1.0, 6.0, 24.0])
SURFACES = {
    "held surface": {"kind": "temperature", "time": [0.0], "value": [300.0]},
    "convection": {"kind": "convection", "h": H, "temperature": 300.0},
}


@cache
def nodes() -> np.ndarray:
    widths = 50.0 ** (np.arange(CELLS) / (CELLS - 1))
    face = np.concatenate([[0.0], 2.0 * np.cumsum(widths) / widths.sum()])
    return (face[1:] + face[:-1]) / 2


@cache
def theta(surface: str) -> np.ndarray:
    """(T - Ti)/(Ts - Ti), (times, cells)."""
    T, _ = libcure.solve_wall(
        "slab",
        0.0,
        [LAYER],
        SURFACES[surface],
        {"kind": "insulated"},
        np.full(CELLS, 280.0),
        TIMES,
        tolerance=(1e-4, 1e-6),
    )
    return (T - 280.0) / 20.0


def closed(surface: str, x: Any, t: float) -> Any:
    root = np.sqrt(DIFFUSIVITY * t)
    X = x / (2 * root)
    if surface == "held surface":
        return erfc(X)
    # exp(a) erfc(b) = exp(a - b^2) erfcx(b), which does not overflow.
    b = X + H * root / K
    return erfc(X) - np.exp(H * x / K + (H * root / K) ** 2 - b**2) * erfcx(b)


@cache
def compare() -> list[Comparison]:
    rows = []
    for surface in SURFACES:
        for t, values in zip(TIMES, theta(surface), strict=True):
            for depth in (0.02, 0.1, 0.3):
                i = int(np.abs(nodes() - depth).argmin())
                rows.append(
                    Comparison(
                        "Carslaw & Jaeger 1959",
                        f"{surface}, {t / 3600:g} h, {1e3 * nodes()[i]:.0f} mm deep",
                        float(closed(surface, nodes()[i], t)),
                        float(values[i]),
                        "1",
                        1e-3,
                        "closed form",
                    )
                )
    return rows


def figure(fig: Any) -> None:
    axes = fig.subplots(1, 2, sharey=True)
    for ax, surface in zip(axes, SURFACES, strict=True):
        for i, (t, values) in enumerate(zip(TIMES, theta(surface), strict=True)):
            x = np.linspace(0, 0.6, 200)
            ax.plot(1e3 * x, closed(surface, x, t), color=f"C{i}", lw=1, label=f"{t / 3600:g} h")
            ax.plot(1e3 * nodes()[::12], values[::12], "o", color=f"C{i}", ms=3, mfc="none")
        ax.set(xlabel="depth [mm]", title=surface, xlim=(0, 600))
        ax.legend(fontsize=7, frameon=False)
    axes[0].set_ylabel("θ; lines: closed form, circles: nodes")
