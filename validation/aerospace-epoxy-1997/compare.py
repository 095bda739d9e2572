from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import brentq

import libcure
from libcure.validation import Comparison, load_script

other = load_script(Path(__file__).parents[1] / "independent_wall.py")
case = load_script(Path(__file__).parents[1] / "wall_case.py").load(Path(__file__).with_name("case.json"))
SOURCE = "Johnston 1997"
NAME = "aerospace-epoxy-johnston-1997"
A, E, M, N, C, A0, AT = 1.528e5, 66500.0, 0.8129, 2.736, 43.09, -1.684, 5.475e-3


def chemical(T: Any, alpha: Any) -> Any:
    return other.arrhenius(A, E, T) * other.power(alpha, M) * other.power(1 - alpha, N)


def rate(T: np.ndarray, alpha: np.ndarray) -> np.ndarray:
    return chemical(T, alpha) / (1 + np.exp(C * (alpha - A0 - AT * T)))


@cache
def laminate() -> tuple[np.ndarray, tuple[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """Times [s]; temperatures and degrees of cure of libcure and of SciPy."""
    times = np.linspace(0, 244 * 60, 977)
    return times, case.ours(times), case.theirs(times, rate)


@cache
def compare() -> list[Comparison]:
    resin = libcure.load_resin(NAME)
    rows = []
    for T, published in ((110, 0.41375), (140, 0.57800), (160, 0.68750), (180, 0.79700)):
        half = brentq(
            lambda a, T=T + 273.15: float(resin.rate([T], [a])[0]) / float(chemical(T, np.array(a))) - 0.5, 0.1, 0.99
        )
        # 110 °C is 383.15 K: alpha_c = -1.684 + 5.475e-3 * 383.15 = 0.41375, to five digits.
        rows.append(Comparison(SOURCE, f"conversion at half rate, {T} °C", published, half, "1", 6e-6, "two codes"))
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    for T, a0, t, alpha in data.itertuples(index=False):
        computed = resin.isothermal([T + 273.15], [60.0 * t], a0)[0, 0]
        rows.append(
            Comparison(
                SOURCE,
                f"conversion from {a0:g} after {t:g} min at {T:g} °C",
                alpha,
                float(computed),
                "1",
                5e-4,
                "two codes",
            )
        )
    Tg = resin.glass_transition([0.0, 0.5, 1.0])
    rows.append(
        Comparison(
            "Hubert et al. 2001",
            "DiBenedetto fraction at half conversion",
            0.30314,
            float((Tg[1] - Tg[0]) / (Tg[2] - Tg[0])),
            "1",
            1e-5,
            "two codes",
        )
    )
    _, (T, alpha), (T2, alpha2) = laminate()
    rows.append(
        Comparison(
            "SciPy BDF, aerospace laminate",
            "peak in 30 mm of laminate on a tool",
            T2.max() - 273.15,
            T.max() - 273.15,
            "°C",
            0.1,
            "two codes",
        )
    )
    rows.append(
        Comparison(
            "SciPy BDF, aerospace laminate",
            "largest temperature difference, all cells and times",
            0.0,
            float(np.abs(T - T2).max()),
            "K",
            0.1,
            "two codes",
        )
    )
    rows.append(
        Comparison(
            "SciPy BDF, aerospace laminate",
            "least final degree of cure",
            float(alpha2[-1].min()),
            float(alpha[-1].min()),
            "1",
            1e-3,
            "two codes",
        )
    )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    resin = libcure.load_resin(NAME)
    for i, ((T, a0), group) in enumerate(data.groupby(["temperature [degC]", "initial degree of cure [1]"])):
        t = np.linspace(0, 240, 300)
        left.plot(t, resin.isothermal([T + 273.15], 60 * t, a0)[0], color=f"C{i}", label=f"{T} °C from {a0}")
        left.plot(group["time [min]"], group["alpha [1]"], "o", color=f"C{i}", mfc="none")
    left.set(xlabel="time [min]", ylabel="degree of cure")
    left.legend(fontsize=7, frameon=False)
    times, (T, _), (T2, _) = laminate()
    cycle = case.outer["temperature_C"]
    right.plot(times / 60, np.interp(times / 60, cycle["time_min"], cycle["value_C"]), color="0.6", lw=1, label="air")
    hot = int(T.max(axis=0).argmax())
    right.plot(times / 60, T[:, hot] - 273.15, label="hottest cell, libcure")
    right.plot(times[::20] / 60, T2[::20, hot] - 273.15, ".", ms=3, label="the same, SciPy")
    right.set(xlabel="time [min]", ylabel="temperature [°C]")
    right.legend(fontsize=7, frameon=False)
