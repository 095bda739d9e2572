from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import libcure
from libcure.validation import Comparison

MEAN, AMPLITUDE, COLDEST, DIFFUSIVITY = 283.15, 10.0, 35.0, 6e-7
DAY, CELLS, DEPTH, YEARS = 86400.0, 250, 25.0, 4
LAYER = {
    "name": "ground",
    "thickness": DEPTH,
    "conductivity": 1.2,
    "density": 1600.0,
    "specific_heat": 1250.0,
    "cells": CELLS,
    "growth": 20.0,
}
DAYS = (35.0, 126.0, 217.5)


def formula(depth: Any, day: Any) -> Any:
    """Temperatures of the library's formula [K]."""
    depth, day = np.broadcast_arrays(np.asarray(depth, float), np.asarray(day, float))
    same = [np.full(depth.shape, x) for x in (MEAN, AMPLITUDE, COLDEST, DIFFUSIVITY)]
    return libcure.heat.ground_temperature(*same, depth, day)


@cache
def nodes() -> np.ndarray:
    widths = 20.0 ** (np.arange(CELLS) / (CELLS - 1))
    face = np.concatenate([[0.0], DEPTH * np.cumsum(widths) / widths.sum()])
    return (face[1:] + face[:-1]) / 2


@cache
def solved() -> np.ndarray:
    """Temperatures (days, cells) [K] of the last year."""
    days = np.arange(0.0, 365.0 * YEARS + 1, 5.0)
    surface = MEAN - AMPLITUDE * np.cos(2 * np.pi * (days - COLDEST) / 365)
    times = DAY * (365.0 * (YEARS - 1) + np.array(DAYS))
    T, _ = libcure.solve_wall(
        "slab",
        0.0,
        [LAYER],
        {"kind": "temperature", "time": list(DAY * days), "value": list(surface)},
        {"kind": "insulated"},
        np.full(CELLS, MEAN),
        times,
    )
    return T


@cache
def compare() -> list[Comparison]:
    rows = []
    table = pd.read_csv(Path(__file__).with_name("table.csv"))
    for depth, *values in table.itertuples(index=False):
        for day, published in zip(DAYS, values, strict=True):
            rows.append(
                Comparison(
                    "Kusuda & Achenbach 1965",
                    f"{depth:g} m deep on day {day:g}",
                    published,
                    float(formula(depth, day)) - 273.15,
                    "°C",
                    1e-3,
                    "closed form",
                )
            )
        if depth > 0:
            for i, (day, published) in enumerate(zip(DAYS, values, strict=True)):
                own = float(np.interp(depth, nodes(), solved()[i])) - 273.15
                rows.append(
                    Comparison(
                        "Kusuda & Achenbach 1965",
                        f"{depth:g} m deep on day {day:g}, by conduction from the surface",
                        published,
                        own,
                        "°C",
                        0.05,
                        "closed form",
                    )
                )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    day = np.linspace(0, 365, 366)
    for depth in (0.0, 1.0, 2.0, 3.0, 5.0):
        left.plot(day, formula(depth, day) - 273.15, label=f"{depth:g} m")
    left.set(xlabel="day of the year", ylabel="temperature [°C]")
    left.legend(fontsize=7, frameon=False)
    depth = np.linspace(0, 12, 200)
    for i, x in enumerate(DAYS):
        right.plot(formula(depth, x) - 273.15, depth, color=f"C{i}", label=f"day {x:g}")
        right.plot(solved()[i][::6] - 273.15, nodes()[::6], "o", color=f"C{i}", ms=3, mfc="none")
    right.set(xlabel="temperature [°C]; circles: by conduction", ylabel="depth [m]", ylim=(12, 0))
    right.legend(fontsize=7, frameon=False)
