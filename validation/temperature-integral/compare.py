from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import libcure
from libcure.validation import Comparison, resin_variant

R = 8.31446261815324
LAYER = {
    "name": "sample",
    "thickness": 1e-6,
    "conductivity": 1.0,
    "density": 1000.0,
    "specific_heat": 1000.0,
    "cells": 1,
}
KISSINGER = (1e10, 90e3)  # A [1/s], E [J/mol]


def first_order(A: float, E: float) -> libcure.Resin:
    def quantity(value: float, unit: str) -> dict[str, Any]:
        return {"value": value, "unit": unit, "basis": "assumption", "source": "none", "where": "check"}

    return resin_variant(
        "polyurethane-winkler-2009",
        {
            "rate": {
                "law": "nth-order",
                "k": {"A": quantity(A, "1/s"), "E": quantity(E, "J/mol")},
                "n": quantity(1, "1"),
            }
        },
    )


def ramp(resin: libcure.Resin, beta: float, T0: float, times: np.ndarray) -> np.ndarray:
    """Degree of cure at times [s] while heated at beta [K/s] from T0 [K]."""
    end = float(times[-1])
    wall = {"kind": "temperature", "time": [0.0, end], "value": [T0, T0 + beta * end]}
    return libcure.solve_wall(
        "slab", 0.0, [LAYER], {"kind": "insulated"}, wall, [T0], times, resin, 0, 0.0, 0.0, (1e-4, 1e-9)
    )[1][:, 0]


@cache
def peaks() -> tuple[np.ndarray, np.ndarray, list[tuple[np.ndarray, np.ndarray]]]:
    resin = first_order(*KISSINGER)
    rates = np.array([1.0, 2.0, 5.0, 10.0, 20.0])
    found, curves = [], []
    for beta in rates / 60:
        T = np.linspace(300.0, 520.0, 4401)
        alpha = ramp(resin, beta, 300.0, (T - 300.0) / beta)
        speed = resin.rate(T, alpha)
        i = int(np.argmax(speed))
        a, b, _ = np.polyfit(T[i - 3 : i + 4] - T[i], speed[i - 3 : i + 4], 2)
        found.append(T[i] - b / (2 * a))
        curves.append((T, speed / beta))
    return rates, np.array(found), curves


@cache
def compare() -> list[Comparison]:
    rows = []
    table = pd.read_csv(Path(__file__).with_name("table.csv"))
    beta, T, T0 = 10 / 60, 500.0, 240.0
    for x, p in table.itertuples(index=False):
        E = x * R * T
        A = R * beta / (E * p)
        alpha = ramp(first_order(A, E), beta, T0, np.array([0.0, (T - T0) / beta]))[-1]
        rows.append(
            Comparison(
                "definition of p(x)",
                f"p at E/RT = {x:g}",
                p,
                -np.log1p(-alpha) * R * beta / (A * E),
                "1",
                1e-4 * p,
                "closed form",
            )
        )
    A, E = KISSINGER
    rates, Tp, _ = peaks()
    slope = np.polyfit(1 / Tp, np.log(rates / Tp**2), 1)[0]
    rows.append(
        Comparison(
            "Kissinger 1957",
            "activation energy from five peaks",
            E / 1e3,
            -slope * R / 1e3,
            "kJ/mol",
            0.09,
            "closed form",
        )
    )
    for beta, peak in zip(rates, Tp, strict=True):
        balance = A / (beta / 60) * np.exp(-E / (R * peak)) * R * peak**2 / E
        rows.append(
            Comparison(
                "Kissinger 1957",
                f"A R Tp^2/(E beta) exp(-E/RTp) at {beta:g} K/min",
                1.0,
                balance,
                "1",
                2e-3,
                "closed form",
            )
        )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    rates, Tp, curves = peaks()
    for beta, (T, speed) in zip(rates, curves, strict=True):
        left.plot(T, speed, label=f"{beta:g} K/min")
    left.set(xlabel="temperature [K]", ylabel="dα/dT [1/K]")
    left.legend(fontsize=6, frameon=False)
    right.plot(1e3 / Tp, np.log(rates / Tp**2), "o", mfc="none", label="simulated")
    fit = np.polyfit(1e3 / Tp, np.log(rates / Tp**2), 1)
    right.plot(1e3 / Tp, np.polyval(fit, 1e3 / Tp), lw=0.8, label=f"slope: {-fit[0] * R:.2f} kJ/mol")
    right.set(xlabel="1000/Tp [1/K]", ylabel="ln(β/Tp²)")
    right.legend(fontsize=6, frameon=False)
