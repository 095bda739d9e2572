from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import libcure
from libcure.validation import Comparison

R = 8.31446261815324
SOURCE = "Polymers 16, 2391 (2024)"
BULK = "exotherm in bulk"
RESINS = ("unsaturated-polyester-cold", "vinyl-ester-cold")
SAMPLE = {
    "name": "sample",
    "thickness": 1e-6,
    "conductivity": 1.0,
    "density": 1000.0,
    "specific_heat": 1000.0,
    "cells": 1,
}
H, CP, RHO, MASS, FILM = 340e3, 1700.0, 1120.0, 0.1, 8.0  # of the polyester's file; cup assumed


def kissinger(beta: np.ndarray, Tp: np.ndarray) -> float:
    """Apparent activation energy [kJ/mol]."""
    return float(-np.polyfit(1 / Tp, np.log(beta / Tp**2), 1)[0]) * R / 1e3


@cache
def scan(name: str, beta: float) -> tuple[np.ndarray, np.ndarray]:
    """Temperatures [K] and dalpha/dT [1/K] while heated from 0 °C at beta [K/min]."""
    T = np.linspace(273.15, 473.15, 2001)
    times = (T - T[0]) * 60 / beta
    wall = {"kind": "temperature", "time": [0.0, times[-1]], "value": [T[0], T[-1]]}
    resin = libcure.load_resin(name)
    alpha = libcure.solve_wall(
        "slab", 0.0, [SAMPLE], {"kind": "insulated"}, wall, [T[0]], times, resin, 0, 0.0, None, (1e-3, 1e-8)
    )[1]
    return T, np.gradient(alpha[:, 0], T)


@cache
def cup() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times [s], temperature [K] and degree of cure of 100 g of the polyester."""
    side = (MASS / RHO) ** (1 / 3)
    # One cell: a slab of volume over surface thickness, all its surface on one side.
    layer = {"name": "cup", "thickness": side / 6, "conductivity": 1e3, "density": RHO, "specific_heat": CP, "cells": 1}
    times = np.linspace(0, 7200.0, 7201)
    air = {"kind": "convection", "h": FILM, "temperature": 293.15}
    T, alpha = libcure.solve_wall(
        "slab",
        0.0,
        [layer],
        {"kind": "insulated"},
        air,
        [293.15],
        times,
        libcure.load_resin("unsaturated-polyester-cold"),
        0,
        RHO * H,
    )
    return times, T[:, 0], alpha[:, 0]


@cache
def compare() -> list[Comparison]:
    rows = []
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    measured = [
        kissinger(g["heating rate [K/min]"].to_numpy(), g["peak temperature [degC]"].to_numpy() + 273.15)
        for _, g in data.groupby("resin")
    ]
    for name in RESINS:
        rates = np.array([5.0, 20.0])
        peaks = [T[speed.argmax()] for T, speed in (scan(name, beta) for beta in rates)]
        rows.append(
            Comparison(
                SOURCE,
                f"{name}: apparent energy from DSC peaks at 5 and 20 K/min",
                float(np.mean(measured)),
                kissinger(rates, np.array(peaks)),
                "kJ/mol",
                7.5,
                "calibration",
            )
        )
    for beta, group in data.groupby("heating rate [K/min]"):
        T, speed = scan("unsaturated-polyester-cold", float(beta))
        rows.append(
            Comparison(
                SOURCE,
                f"DSC peak of the demo polyester at {beta:g} K/min",
                float(group["peak temperature [degC]"].mean()),
                float(T[speed.argmax()]) - 273.15,
                "°C",
                10.0,
                "another material",
            )
        )
    resin = libcure.load_resin("unsaturated-polyester-cold")
    times, T, alpha = cup()
    gel = float(np.interp(resin.alpha_gel, alpha, times)) / 60
    rows.append(Comparison(SOURCE, "peak in a cup of 100 g", 144.0, float(T.max()) - 273.15, "°C", 38.0, "another material",
            subject=BULK))
    rows.append(
        Comparison(SOURCE, "gel to peak in a cup of 100 g", 15.5, times[T.argmax()] / 60 - gel, "min", 5.5, "another material",
            subject=BULK)
    )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    for i, name in enumerate(RESINS):
        for beta, style in ((5.0, "-"), (20.0, "--")):
            T, speed = scan(name, beta)
            left.plot(T - 273.15, speed, style, color=f"C{i}", lw=1, label=f"{name}, {beta:g} K/min")
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    left.plot(
        data["peak temperature [degC]"],
        np.full(len(data), -0.002),
        "k^",
        ms=4,
        label="measured peaks, two other resins",
    )
    left.set(xlabel="temperature [°C]", ylabel="dα/dT [1/K]")
    left.legend(fontsize=5, frameon=False)
    times, T, _alpha = cup()
    right.plot(times / 60, T - 273.15, label="demo polyester, 100 g")
    right.plot([34, 70], [162, 126], "k^", label="measured peaks, two other resins")
    right.set(xlabel="time [min]", ylabel="temperature [°C]")
    right.legend(fontsize=6, frameon=False)
