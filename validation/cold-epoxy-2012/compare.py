from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure import zero_d
from libcure.validation import Comparison

T_COLD = 273.15
TIMES = np.append(0.0, np.geomspace(60.0, 40 * 86400.0, 6000))


def film(name: str, T: float) -> np.ndarray:
    return zero_d.isothermal(libcure.load_resin(name), [T], TIMES)[0]


@cache
def compare() -> list[Comparison]:
    fast = libcure.load_resin("epoxy-amine-fast")
    gel = float(np.interp(fast.alpha_gel, film("epoxy-amine-fast", T_COLD), TIMES)) / 60
    started = float(np.interp(86400.0, TIMES, film("epoxy-amine-medium", T_COLD)))
    return [
        Comparison("thesis on low-temperature adhesives", "gel time at 0 °C, film of epoxy-amine-fast", 79.0, gel, "min", 0.0,
            "another material", ">=", subject="gel and pot life"),
        Comparison("Moussa et al. 2012", "degree of cure after a day at 0 °C, film of epoxy-amine-medium",
            float(libcure.load_resin("epoxy-amine-medium").alpha_gel), started, "1", 0.0, "another material", "<=", subject="ambient cure rate"),
    ]  # fmt: skip


def figure(fig: Any) -> None:
    ax = fig.subplots()
    for name in ("epoxy-amine-fast", "epoxy-amine-medium", "epoxy-amine-slow"):
        ax.semilogx(TIMES[1:] / 3600, film(name, T_COLD)[1:], label=name)
    ax.set(xlabel="hours at 0 °C", ylabel="degree of cure of a film")
    ax.legend(fontsize=7, frameon=False)
