from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import libcure
from libcure.validation import Comparison, load_script, resin_variant

other = load_script(Path(__file__).parents[1] / "independent_wall.py")
case = load_script(Path(__file__).parents[1] / "wall_case.py").load(Path(__file__).with_name("case.json"))
SOURCE = "Lee, Loos & Springer 1982"
NAME = "graphite-epoxy-lee-loos-springer-1982"


def rate(T: np.ndarray, alpha: np.ndarray) -> np.ndarray:
    k1, k2, k3 = (
        other.arrhenius(A / 60, E, T) for A, E in ((2.101e9, 80700.0), (-2.014e9, 77800.0), (1.96e5, 56600.0))
    )
    return np.where(alpha <= 0.3, (k1 + k2 * alpha) * (1 - alpha) * (0.47 - alpha), k3 * (1 - alpha))


@cache
def laminate() -> tuple[np.ndarray, tuple[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """Times [s]; temperatures and degrees of cure of libcure and of SciPy. The centre is the first cell."""
    times = np.linspace(0, 200 * 60, 1201)
    return times, case.ours(times), case.theirs(times, rate, rtol=1e-7)


@cache
def compare() -> list[Comparison]:
    resin = libcure.load_resin(NAME)
    rows = []
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    for T, t, alpha in data.itertuples(index=False):
        computed = resin.isothermal([T + 273.15], [60.0 * t], 0.0)[0, 0]
        rows.append(
            Comparison(SOURCE, f"conversion after {t:g} min at {T:g} °C", alpha, float(computed), "1", 2e-3, "two codes")
        )
    document = json.loads((libcure.models_folder() / "resins" / f"{NAME}.json").read_text())
    rate_document = document["rate"]
    rate_document["k1"]["A"]["value"] = 2.102e9
    second = resin_variant(NAME, {"rate": rate_document})
    rows.append(
        Comparison(
            SOURCE,
            "conversion after 10 min at 150 °C with the other A1, 2.102e9 1/min",
            float(data.query("`temperature [degC]` == 150 and `time [min]` == 10")["alpha [1]"].iloc[0]),
            float(second.isothermal([423.15], [600.0], 0.0)[0, 0]),
            "1",
            2e-3,
            "two codes",
        )
    )
    none = {"kind": "insulated"}
    start = np.full(len(case.start), 390.0)
    T, alpha = libcure.solve_wall("slab", 0.0, case.layers, none, none, start, [0.0, 3600.0], resin, 0, case.heat, 0.0)
    rows.append(
        Comparison(
            SOURCE,
            "adiabatic rise of the composite per conversion",
            230.742,
            float((T[-1, 0] - 390.0) / alpha[-1, 0]),
            "K",
            0.001,
            "closed form",
        )
    )
    _, (T, _), (T2, _) = laminate()
    peak, peak2 = T[:, 0].max(), T2[:, 0].max()
    rows.append(
        Comparison(
            "SciPy BDF, graphite laminate",
            "centre peak of 25.4 mm",
            peak2 - 273.15,
            peak - 273.15,
            "°C",
            0.2,
            "two codes",
        )
    )
    rows.append(
        Comparison(
            "SciPy BDF, graphite laminate",
            "largest temperature difference, all cells and times",
            0.0,
            float(np.abs(T - T2).max()),
            "K",
            0.2,
            "two codes",
        )
    )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    resin = libcure.load_resin(NAME)
    for i, (T, group) in enumerate(data.groupby("temperature [degC]")):
        t = np.linspace(0, 120, 300)
        left.plot(t, resin.isothermal([T + 273.15], 60 * t, 0.0)[0], color=f"C{i}", label=f"{T} °C")
        left.plot(group["time [min]"], group["alpha [1]"], "o", color=f"C{i}", mfc="none")
    left.set(xlabel="time [min]", ylabel="degree of cure")
    left.legend(fontsize=7, frameon=False)
    times, (T, _), (T2, _) = laminate()
    cycle = case.outer["temperature_C"]
    right.plot(times / 60, np.interp(times / 60, cycle["time_min"], cycle["value_C"]), color="0.6", lw=1, label="surface")
    right.plot(times / 60, T[:, 0] - 273.15, label="centre, libcure")
    right.plot(times[::25] / 60, T2[::25, 0] - 273.15, ".", ms=3, label="centre, SciPy")
    right.set(xlabel="time [min]", ylabel="temperature [°C]")
    right.legend(fontsize=7, frameon=False)
