from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import libcure
from libcure.validation import Comparison, load_script

other = load_script(Path(__file__).parents[1] / "independent_wall.py")
case = load_script(Path(__file__).parents[1] / "wall_case.py").load(Path(__file__).with_name("case.json"))
SOURCE = "Bogetti & Gillespie 1991"
A, E, M, N = 3.7e22 / 60, 167400.0, 0.524, 1.476


def rate(T: np.ndarray, alpha: np.ndarray) -> np.ndarray:
    return other.arrhenius(A, E, T) * other.power(alpha, M) * other.power(1 - alpha, N)


@cache
def laminate() -> tuple[np.ndarray, tuple[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """Times [s]; temperatures and degrees of cure of libcure and of SciPy. The centre is the first cell."""
    times = np.linspace(0, 160 * 60, 1921)
    return times, case.ours(times), case.theirs(times, rate)


@cache
def compare() -> list[Comparison]:
    resin = libcure.load_resin("glass-polyester-bogetti-gillespie-1991")
    rows = []
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    for T, t, alpha in data.itertuples(index=False):
        computed = resin.isothermal([T + 273.15], [60.0 * t], 1e-4)[0, 0]
        rows.append(
            Comparison(
                SOURCE, f"conversion after {t:g} min at {T:g} °C", alpha, float(computed), "1", 0.002, "two codes"
            )
        )
    none = {"kind": "insulated"}
    start = np.full(len(case.start), 363.15)
    T, alpha = libcure.solve_wall("slab", 0.0, case.layers, none, none, start, [0.0, 6e4], resin, 0, case.heat, 1e-4)
    rise = (T[-1, 0] - 363.15) / (alpha[-1, 0] - 1e-4)
    rows.append(
        Comparison(SOURCE, "adiabatic rise of the laminate from 90 °C", 61.508, float(rise), "K", 0.001, "closed form")
    )
    times, (T, alpha), (T2, alpha2) = laminate()
    surface = np.array(case.outer["temperature_C"]["value_C"])
    peak, peak2 = T[:, 0].max(), T2[:, 0].max()
    rows.append(
        Comparison(
            SOURCE,
            "centre peak, highest surface temperature plus Hr/cp",
            surface.max() + 61.508,
            peak - 273.15,
            "°C",
            0.0,
            "closed form",
            "<=",
        )
    )
    rows.append(
        Comparison(
            SOURCE,
            "centre peak, above the surface that heats it",
            surface[1],
            peak - 273.15,
            "°C",
            0.0,
            "closed form",
            ">=",
        )
    )
    rows.append(
        Comparison(
            "SciPy BDF, polyester laminate",
            "centre peak of 25.4 mm",
            peak2 - 273.15,
            peak - 273.15,
            "°C",
            0.1,
            "two codes",
        )
    )
    rows.append(
        Comparison(
            "SciPy BDF, polyester laminate",
            "largest temperature difference, all cells and times",
            0.0,
            float(np.abs(T - T2).max()),
            "K",
            0.1,
            "two codes",
        )
    )
    half = [float(np.interp(0.5, a[:, 0], times)) / 60 for a in (alpha2, alpha)]
    rows.append(
        Comparison(
            "SciPy BDF, polyester laminate",
            "time at which the centre is half cured",
            half[0],
            half[1],
            "min",
            1 / 60,
            "two codes",
        )
    )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    resin = libcure.load_resin("glass-polyester-bogetti-gillespie-1991")
    for i, (T, group) in enumerate(data.groupby("temperature [degC]")):
        t = np.linspace(0, 60, 200)
        left.plot(t, resin.isothermal([T + 273.15], 60 * t, 1e-4)[0], color=f"C{i}", label=f"{T} °C")
        left.plot(group["time [min]"], group["alpha [1]"], "o", color=f"C{i}", mfc="none")
    left.set(xlabel="time [min]", ylabel="degree of cure", title="isothermal; circles: constants as transcribed")
    left.legend(fontsize=7, frameon=False)
    times, (T, _), (T2, _) = laminate()
    cycle = case.outer["temperature_C"]
    right.plot(times / 60, np.interp(times / 60, cycle["time_min"], cycle["value_C"]), color="0.6", lw=1, label="surface")
    right.plot(times / 60, T[:, 0] - 273.15, label="centre, libcure")
    right.plot(times[::40] / 60, T2[::40, 0] - 273.15, ".", ms=3, label="centre, SciPy")
    right.set(xlabel="time [min]", ylabel="temperature [°C]", title="25.4 mm laminate")
    right.legend(fontsize=7, frameon=False)
