from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure.validation import Row

DAY = 86400.0


def difference(T_C: np.ndarray, time: float = DAY) -> np.ndarray:
    """Tg less cure temperature [K] after a time [s] at temperatures [°C]."""
    resin = libcure.load_resin("vinyl-ester-cold")
    alpha = resin.isothermal(T_C + 273.15, [time], resin.initial_degree_of_cure)[:, 0]
    return resin.glass_transition(alpha) - T_C - 273.15


@cache
def compare() -> list[Row]:
    temperatures = np.array([10.0, 15.0, 20.0, 25.0, 30.0, 40.0])
    return [
        Row(
            "Cook et al. 1997",
            f"Tg above the cure temperature after a day at {T:g} °C",
            11.0,
            float(d),
            "K",
            3.0,
            "from memory" if T == 20.0 else "measured",
            note="calibrated at this temperature" if T == 20.0 else "",
        )
        for T, d in zip(temperatures, difference(temperatures), strict=True)
    ]


def figure(fig: Any) -> None:
    ax = fig.subplots()
    T = np.linspace(5, 60, 56)
    for hours in (6, 24, 168):
        ax.plot(T, difference(T, 3600.0 * hours), label=f"{hours} h")
    ax.axhspan(8, 14, color="0.9", zorder=0, label="11 ± 3 K")
    ax.set(xlabel="cure temperature [°C]", ylabel="Tg − cure temperature [K]")
    ax.legend(fontsize=7, frameon=False)
