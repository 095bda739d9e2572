from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure import _core
from libcure.validation import Row

H, RHO, CP, K = 350e3, 980.0, 1600.0, 0.15
CELLS, LENGTH = 1200, 0.012
LAYER = {"name": "bar", "thickness": LENGTH, "conductivity": K, "density": RHO, "specific_heat": CP, "cells": CELLS}


@cache
def bar() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Places [m], times [s], temperatures [K] and degrees of cure."""
    x = (np.arange(CELLS) + 0.5) * LENGTH / CELLS
    times = np.linspace(0, 9.0, 181)
    # A hot film that is taken away after 3 s: the coefficient falls to nothing.
    hot = {"kind": "convection", "h": {"time": [0.0, 3.0, 3.01], "value": [1e5, 1e5, 0.0]}, "temperature": 473.15}
    T, alpha = _core.solve_wall("slab", 0.0, [LAYER], hot, {"kind": "insulated"}, np.full(CELLS, 293.15), times,
                                libcure.load_resin("dcpd-grubbs-goli-2018"), 0, RHO * H, 0.01, (0.05, 1e-5))
    return x, times, T, alpha


def front() -> np.ndarray:
    """Place of alpha = 0.5 at each time [m]."""
    x, _, _, alpha = bar()
    return np.array([x[-1] if a[-1] > 0.5 else float(np.interp(-0.5, -a, x)) if a[0] > 0.5 else 0.0 for a in alpha])


@cache
def compare() -> list[Row]:
    x, times, T, _ = bar()
    place = front()
    middle = (place > 0.004) & (place < 0.009)
    speed = np.polyfit(times[middle], place[middle], 1)[0]
    bound = 20 + H / CP * 0.99
    far = T[:, (x > 0.004) & (x < 0.009)].max() - 273.15
    return [
        Row("memory of the literature", "front speed at 20 °C", 1.25, 1e3 * float(speed), "mm/s", 0.25, "from memory"),
        Row("first law", "highest temperature between 4 and 9 mm, at most adiabatic", bound, float(far), "°C", 1.0, "closed form", "<="),
        Row("first law", "highest temperature between 4 and 9 mm, plateau behind the front", bound, float(far), "°C", 3.0,
            "closed form"),
    ]


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    x, times, T, _ = bar()
    for i in range(0, len(times), 20):
        left.plot(1e3 * x, T[i] - 273.15, color="C0", alpha=0.3 + 0.7 * i / len(times), lw=1)
    left.axhline(20 + H / CP * 0.99, color="0.5", ls="--", lw=0.8)
    left.set(xlabel="place [mm]", ylabel="temperature [°C]", title="every second; dashed: adiabatic")
    right.plot(times, 1e3 * front())
    right.set(xlabel="time [s]", ylabel="front [mm]")
