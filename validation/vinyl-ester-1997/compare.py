from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure.validation import Comparison

DAY = 86400.0
COOK, HERZOG = "Cook et al. 1997", "Herzog et al. 2005"
SEEN = 1e-5  # least rate of cure that a calorimeter sees [1/s], from memory
DYNAMIC = 12.5  # Tg by DMTA less the midpoint by calorimetry [K], from memory 10 to 15


def cured(T_C: np.ndarray, times: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Degree of cure [-] and Tg less cure temperature [K] at temperatures [°C] and times [s]."""
    resin = libcure.load_resin("vinyl-ester-cold")
    alpha = resin.isothermal(T_C + 273.15, times, resin.initial_degree_of_cure)
    return alpha, resin.glass_transition(alpha) - T_C[:, None] - 273.15


def at_rest(T_C: np.ndarray) -> list[float]:
    """Tg less cure temperature [K] where a calorimeter has seen the last of the heat."""
    times = np.geomspace(60.0, 30 * DAY, 4000)
    found = []
    for alpha, above in zip(*cured(T_C, times), strict=True):
        rate = np.gradient(alpha, times)
        peak = rate.argmax()
        found.append(float(above[peak + (rate[peak:] < SEEN).argmax()]))
    return found


@cache
def compare() -> list[Comparison]:
    rows = []
    temperatures = np.array([10.0, 15.0, 20.0, 25.0, 30.0, 40.0])
    for T, above in zip(temperatures, at_rest(temperatures), strict=True):
        what = f"Tg above the cure temperature at the end of an isothermal run at {T:g} °C"
        rows.append(Comparison(COOK, what, 11.0, above, "K", 3.0, "from memory"))
    ambient = np.array([20.0, 25.0])
    day, week = cured(ambient, np.array([DAY, 7 * DAY]))[1].T
    rows.append(Comparison(COOK, "Tg above the cure temperature after a day at 20 °C", 11.0, float(day[0]), "K", 3.0, "calibration"))
    for T, above in zip(ambient, week, strict=True):
        what = f"Tg by DMTA after a week at {T:g} °C"
        rows.append(Comparison(HERZOG, what, 60.0, float(T + above) + DYNAMIC, "°C", 10.0, "from memory", note="calibrated"))
    return rows


def figure(fig: Any) -> None:
    ax = fig.subplots()
    T = np.linspace(5, 60, 56)
    for hours in (6, 24, 168):
        ax.plot(T, cured(T, np.array([3600.0 * hours]))[1][:, 0], label=f"{hours} h")
    ax.plot(T, at_rest(T), "k--", label="end of an isothermal run")
    ax.axhspan(8, 14, color="0.9", zorder=0, label="11 ± 3 K")
    ax.set(xlabel="cure temperature [°C]", ylabel="Tg − cure temperature [K]")
    ax.legend(fontsize=7, frameon=False)
