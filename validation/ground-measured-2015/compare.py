from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import minimize_scalar

from libcure import _core
from libcure.validation import Row

SOURCE = "weather network at Fargo, 2015"
TOP, FITTED, ASKED = 100, 150, (200, 225)  # depths [cm]
SENSOR = 0.3  # [K]
OMEGA = 2 * np.pi / 365


@cache
def readings() -> pd.DataFrame:
    """[K], a row a day of the year, a column a depth [cm]."""
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    return data.pivot(index="day_of_year", columns="depth_cm", values="temperature_C") + 273.15


def wave(depth: int) -> tuple[float, float, float, float]:
    """Mean [K], amplitude [K] and coldest day of the yearly wave at a depth, and what it misses at most [K]."""
    T = readings()[depth].to_numpy()
    days = readings().index.to_numpy(float)
    terms = np.column_stack([np.ones(len(days)), np.cos(OMEGA * days), np.sin(OMEGA * days)])
    mean, a, b = np.linalg.lstsq(terms, T, rcond=None)[0]
    coldest = float(np.arctan2(-b, -a) / OMEGA) % 365
    return float(mean), float(np.hypot(a, b)), coldest, float(np.abs(terms @ [mean, a, b] - T).max())


def ground(depth: float, days: Any, diffusivity: float) -> np.ndarray:
    """The library's undisturbed ground with its surface at TOP [K]."""
    days = np.asarray(days, float)
    mean, amplitude, coldest, _ = wave(TOP)
    same = [np.full(days.shape, x) for x in (mean, amplitude, coldest, diffusivity, (depth - TOP) / 100)]
    return np.asarray(_core.ground_temperature(*same, days))


@cache
def diffusivity() -> float:
    """Best for the readings at FITTED [m2/s]."""

    def miss(log_a: float) -> float:
        T = readings()[FITTED]
        return float(((ground(FITTED, T.index, np.exp(log_a)) - T.to_numpy()) ** 2).sum())

    return float(np.exp(minimize_scalar(miss, bounds=(np.log(1e-7), np.log(2e-6)), method="bounded").x))


@cache
def compare() -> list[Row]:
    tolerance = SENSOR + wave(TOP)[3]
    rows = []
    for depth in ASKED:
        T = readings()[depth]
        for day, said in zip(T.index, ground(depth, T.index, diffusivity()), strict=True):
            rows.append(
                Row(SOURCE, f"{depth} cm deep on day {day}, not fitted", float(T[day]) - 273.15, float(said) - 273.15,
                    "°C", tolerance, "measured")
            )  # fmt: skip
    lag = wave(ASKED[-1])[2] - wave(TOP)[2]
    fine = np.linspace(0, 365, 36501)
    ours = fine[ground(ASKED[-1], fine, diffusivity()).argmin()] - wave(TOP)[2]
    rows.append(Row(SOURCE, "lag of the wave from 100 to 225 cm", lag, float(ours), "days", 4.0, "measured"))
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    fine = np.linspace(0, 365, 366)
    for i, depth in enumerate((TOP, FITTED, *ASKED)):
        kind = "surface of the model" if depth == TOP else "fitted" if depth == FITTED else "predicted"
        left.plot(fine, ground(depth, fine, diffusivity()) - 273.15, color=f"C{i}", lw=1.2, label=f"{depth} cm, {kind}")
        left.plot(readings().index, readings()[depth] - 273.15, "o", color=f"C{i}", ms=4, mfc="none")
    left.set(xlabel="day of 2015", ylabel="temperature [°C]; circles: measured")
    left.legend(fontsize=6, frameon=False)
    z = np.linspace(TOP, 300, 81)
    for i, day in enumerate(readings().index):
        T = readings().loc[day] - 273.15
        right.plot(T, T.index, "o", color=f"C{i}", ms=3, mfc="none")
        right.plot([float(ground(d, [day], diffusivity())[0]) - 273.15 for d in z], z, color=f"C{i}", lw=1.2, label=f"day {day}")
    right.invert_yaxis()
    right.set(xlabel="temperature [°C]", ylabel="depth [cm]")
    right.legend(fontsize=6, frameon=False)
