from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure.validation import Comparison

H, RHO, CP, K = 350e3, 980.0, 1600.0, 0.15
CELLS, LENGTH = 800, 0.004
STARTS = (0.01, 0.05)  # initial degree of cure
LAYER = {"name": "bar", "thickness": LENGTH, "conductivity": K, "density": RHO, "specific_heat": CP, "cells": CELLS}


@cache
def bar(alpha0: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Places [m], times [s], temperatures [K] and degrees of cure."""
    x = (np.arange(CELLS) + 0.5) * LENGTH / CELLS
    times = np.linspace(0, 3.5, 141)
    start = np.where(x < 0.0005, 473.15, 293.15)
    none = {"kind": "insulated"}
    T, alpha = libcure.solve_wall(
        "slab",
        0.0,
        [LAYER],
        none,
        none,
        start,
        times,
        libcure.load_resin("dcpd-grubbs-goli-2018"),
        0,
        RHO * H,
        alpha0,
        (0.5, 1e-4),
    )
    return x, times, T, alpha


def front(alpha0: float) -> np.ndarray:
    """Place of alpha = 0.5 at each time [m]."""
    x, _, _, alpha = bar(alpha0)
    return np.array([x[-1] if a[-1] > 0.5 else float(np.interp(-0.5, -a, x)) if a[0] > 0.5 else 0.0 for a in alpha])


@cache
def compare() -> list[Comparison]:
    rows = []
    for alpha0 in STARTS:
        x, times, T, _ = bar(alpha0)
        place = front(alpha0)
        middle = (place > 0.0015) & (place < 0.0032)
        speed = np.polyfit(times[middle], place[middle], 1)[0]
        bound = 20 + H / CP * (1 - alpha0)
        far = T[:, (x > 0.0024) & (x < 0.0030)].max() - 273.15
        rows.append(
            Comparison(
                "memory of the literature",
                f"front speed at 20 °C from alpha {alpha0:g}",
                1.25,
                1e3 * float(speed),
                "mm/s",
                0.25,
                "from memory",
            )
        )
        rows.append(
            Comparison(
                "first law",
                f"highest temperature behind the front from alpha {alpha0:g}, at most adiabatic",
                bound,
                float(far),
                "°C",
                1.0,
                "closed form",
                "<=",
            )
        )
        rows.append(
            Comparison(
                "first law",
                f"highest temperature behind the front from alpha {alpha0:g}",
                bound,
                float(far),
                "°C",
                3.0,
                "closed form",
            )
        )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    x, times, T, _ = bar(STARTS[0])
    for i in range(0, len(times), 20):
        left.plot(1e3 * x, T[i] - 273.15, color="C0", alpha=0.3 + 0.7 * i / len(times), lw=1)
    left.axhline(20 + H / CP * (1 - STARTS[0]), color="0.5", ls="--", lw=0.8)
    left.set(xlabel="place [mm]", ylabel="temperature [°C]", title="every half second; dashed: adiabatic")
    for alpha0 in STARTS:
        right.plot(times, 1e3 * front(alpha0), label=f"from alpha {alpha0:g}")
    right.legend(fontsize=7, frameon=False)
    right.set(xlabel="time [s]", ylabel="front [mm]")
