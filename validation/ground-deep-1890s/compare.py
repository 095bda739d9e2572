from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure.validation import Comparison, normal_band

SOURCE = "Knight, 1890s"
YEAR, MEAN, AMPLITUDE, COLDEST, DIFFUSIVITY = 365.25, 9.8 + 273.15, 1.9, 105.0, 0.48e-6
DAYS = np.arange(0.0, YEAR, 0.25)


def ground(below: float) -> np.ndarray:
    """The library's ground that far below the sensor at 3 m, through the year [K]."""
    same = [np.full(DAYS.shape, x) for x in (MEAN, AMPLITUDE, COLDEST, DIFFUSIVITY, below)]
    return np.asarray(libcure.heat.ground_temperature(*same, DAYS))


@cache
def compare() -> list[Comparison]:
    at6, at9 = ground(3.0), ground(6.0)
    amplitude, lag = float(np.ptp(at6)) / 2.0, float(DAYS[at6.argmin()]) - COLDEST
    return [
        Comparison(SOURCE, "amplitude at 6 m from the wave at 3 m", 0.45, amplitude, "K", 0.2, "measured", subject="ground",
            band=normal_band(amplitude, 0.1)),
        Comparison(SOURCE, "coldest at 6 m, days after 3 m", 91.0, lag, "days", 30.0, "measured", subject="ground", band=normal_band(lag, 15.0)),
        Comparison(SOURCE, "amplitude at 9 m", 0.3, float(np.ptp(at9)) / 2.0, "K", 0.05, "measured", "<=", subject="ground"),
    ]  # fmt: skip


def figure(fig: Any) -> None:
    ax = fig.subplots()
    for i, (depth, seen) in enumerate(((3, ((105, 7.9), (288, 11.7))), (6, ((196, 9.5), (349, 10.4))), (9, ()))):
        ax.plot(DAYS, ground(depth - 3.0) - 273.15, f"C{i}", label=f"{depth} m" + (", given" if depth == 3 else ", foretold"))
        for day, T in seen:
            ax.plot(day, T, f"C{i}o", mfc="none")
    ax.set(xlabel="day of the year; circles: measured, middle of the month", ylabel="temperature [°C]")
    ax.legend(fontsize=8, frameon=False)
