from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import least_squares

import libcure
from libcure import Resin
from libcure.validation import Comparison, normal_band, resin_variant

SOURCE = "characterisation of PMMA cement; C. Li et al. from memory"
ROOM, WALL, FILM = 296.15, 0.015, 8.0
ACRYLIC = {"conductivity": 0.2, "density": 1180.0, "specific_heat": 1700.0}
PTFE = {"conductivity": 0.25, "density": 2200.0, "specific_heat": 1000.0}
E, HEAT = 52.0, 1.7e5  # [kJ/mol] as the redox-cured demo resins; 100 K of rise, both from memory
STEEL = {"conductivity": 15.0, "density": 8000.0, "specific_heat": 450.0}
BONE = {"conductivity": 0.4, "density": 1900.0, "specific_heat": 1300.0}
AIR = {"kind": "convection", "h": FILM, "temperature": ROOM}
TIMES = np.linspace(0.0, 4800.0, 2401)


def resin(ln_k: float) -> Resin:
    """ln_k at 20 °C [1/s]."""
    quantity = {"basis": "estimated", "source": "none", "where": "fit", "note": "fitted to two differences"}
    k = {
        "k_ref": {"value": float(np.exp(ln_k)), "unit": "1/s", **quantity},
        "E": {"value": E, "unit": "kJ/mol", **quantity},
        "T_ref": {"value": 20.0, "unit": "degC", **quantity},
    }
    one = {"value": 1.0, "unit": "1", **quantity}
    return resin_variant("polyurethane-winkler-2009", {
        "rate": {"law": "autocatalytic", "k": k, "m": one, "n": one}, "diffusion": {"form": "none"}, "reference_outcomes": [],
        "initial_degree_of_cure": {"value": 0.002, "unit": "1", **quantity},
    })  # fmt: skip


def foam(conductivity: float) -> dict[str, float]:
    """The foam of a mould [W/(m K)]; its density from memory."""
    return {"conductivity": conductivity, "density": 300.0, "specific_heat": 1400.0}


def patty(ln_k: float, thick: float, mould: dict[str, float]) -> tuple[float, float]:
    """Greatest temperature at the middle [K] and the time of half its rise [s]; half a slab, by symmetry."""
    layers = [
        {"name": "acrylic", "thickness": thick / 2, "cells": 16, **ACRYLIC},
        {"name": "mould", "thickness": WALL, "cells": 16, "growth": 6.0, **mould},
    ]
    start = np.full(32, ROOM)
    T = libcure.solve_wall(
        "slab", 0.0, layers, {"kind": "insulated"}, AIR, start, TIMES, resin(ln_k), 0, ACRYLIC["density"] * HEAT
    )[0][:, 0]
    top = int(T.argmax())
    return float(T[top]), float(np.interp((T[top] + ROOM) / 2, np.maximum.accumulate(T[: top + 1]), TIMES[: top + 1]))


def layer(ln_k: float, thick: float) -> float:
    """Greatest temperature at the bone [K]."""
    layers = [
        {"name": "bone", "thickness": 0.010, "cells": 20, **BONE},
        {"name": "acrylic", "thickness": thick, "cells": 10, **ACRYLIC},
        {"name": "shell", "thickness": 0.004, "cells": 4, **STEEL},
    ]
    held = {"kind": "temperature", "time": [0.0], "value": [ROOM]}
    T = libcure.solve_wall(
        "slab", 0.0, layers, held, AIR, np.full(34, ROOM), TIMES, resin(ln_k), 1, ACRYLIC["density"] * HEAT
    )[0]
    return float(T[:, 19:21].mean(axis=1).max())


@cache
def fitted() -> tuple[float, float]:
    """ln of the rate constant at 20 °C [1/s] and conductivity of the foam [W/(m K)], from the foam moulds."""
    seen = table()["value"].to_numpy(float)[:2]

    def misses(x: np.ndarray) -> np.ndarray:
        thin, thick = (patty(x[0], d, foam(float(np.exp(x[1])))) for d in (0.006, 0.040))
        return np.array([(thick[0] - thin[0] - seen[0]) / 3.0, (abs(thick[1] - thin[1]) - seen[1]) / 10.0])

    found = least_squares(misses, [-6.0, np.log(0.1)], bounds=([-8.0, np.log(0.02)], [-3.0, np.log(0.5)]), diff_step=1e-3, max_nfev=25).x
    return float(found[0]), float(np.exp(found[1]))


@cache
def table() -> pd.DataFrame:
    return pd.read_csv(Path(__file__).with_name("data.csv"))


@cache
def compare() -> list[Comparison]:
    ln_k, conductivity = fitted()
    seen = dict(zip(table()["quantity"], table()["value"].astype(float), strict=True))
    insulated, thin, thick = patty(ln_k, 0.006, foam(conductivity)), patty(ln_k, 0.006, PTFE), patty(ln_k, 0.040, PTFE)
    own = {
        "peak, 6 mm, foam over PTFE mould": (insulated[0] - thin[0], "K", 15.0, "wall temperature"),
        "peak, 40 mm over 6 mm, PTFE mould": (thick[0] - thin[0], "K", 15.0, "exotherm in bulk"),
        "setting time, 40 mm against 6 mm, PTFE mould": (abs(thick[1] - thin[1]), "s", 370.0, "exotherm in bulk"),
    }
    note = f"fitted to the foam moulds: k {np.exp(ln_k):.2g} 1/s at 20 °C, foam of {conductivity:.2g} W/(m K)"
    rows = [
        Comparison(SOURCE, what, seen[what], x, unit, tolerance, "another material", subject=subject, band=normal_band(x, tolerance / 1.645), note=note)
        for what, (x, unit, tolerance, subject) in own.items()
    ]
    rises = [layer(ln_k, d) - ROOM for d in (0.0015, 0.0005)]
    rows.append(
        Comparison("hip resurfacing, 2008", "rise at the bone, layer of 1.5 mm over that of 0.5 mm", 2.75, rises[0] / rises[1], "1", 1.25,
            "another material", subject="wall temperature", note=f"rises {rises[0]:.1f} and {rises[1]:.1f} K")
    )  # fmt: skip
    return rows


def figure(fig: Any) -> None:
    ln_k, conductivity = fitted()
    ax = fig.subplots()
    thick = np.array([2.0, 4.0, 6.0, 10.0, 20.0, 40.0])
    for i, (name, mould) in enumerate((("foam", foam(conductivity)), ("PTFE", PTFE))):
        peaks = [patty(ln_k, d / 1e3, mould)[0] - 273.15 for d in thick]
        ax.plot(thick, peaks, f"C{i}o-", label=f"{name} mould" + (", fitted at 6 and 40 mm" if name == "foam" else ", foretold"))
    ax.set(xlabel="thickness [mm]", ylabel="greatest temperature at the middle [°C]")
    ax.legend(fontsize=8, frameon=False)
