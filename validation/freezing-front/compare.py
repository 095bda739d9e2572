from __future__ import annotations

import json
from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq
from scipy.special import erf, erfc

import libcure
from libcure.validation import Comparison

SAND = json.loads((libcure.models_folder() / "grounds" / "saturated-sand.json").read_text(encoding="utf-8"))
K_L, RHO, C_L = (SAND[key]["value"] for key in ("conductivity", "density", "specific_heat"))
K_S, C_S, WATER = (SAND["freezing"][key]["value"] for key in ("conductivity", "specific_heat", "water"))
A_S, A_L, HEAT = K_S / (RHO * C_S), K_L / (RHO * C_L), 333.43e3 * WATER
T_F, RANGE, DAY, CELLS, DEPTH, GROWTH = 273.15, 0.05, 86400.0, 300, 5.0, 30.0
DAYS = (1.0, 3.0, 10.0)
SETTINGS = ((-5.0, 5.0), (-10.0, 0.1), (-10.0, 5.0), (-20.0, 15.0))


def growth_constant(T_s: float, T_i: float) -> float:
    """lambda of Neumann's solution, temperatures from freezing [K]."""

    def balance(x: float) -> float:
        frozen = K_S * -T_s / np.sqrt(A_S) * np.exp(-(x**2)) / erf(x)
        thawed = K_L * T_i / np.sqrt(A_L) * np.exp(-(x**2) * A_S / A_L) / erfc(x * np.sqrt(A_S / A_L))
        return float(frozen - thawed - HEAT * x * np.sqrt(np.pi * A_S))

    return float(brentq(balance, 1e-6, 3.0))


def exact(x: np.ndarray, t: float, T_s: float, T_i: float) -> np.ndarray:
    """Temperatures from freezing [K]."""
    lam = growth_constant(T_s, T_i)
    frozen = T_s - T_s * erf(x / (2 * np.sqrt(A_S * t))) / erf(lam)
    thawed = T_i - T_i * erfc(x / (2 * np.sqrt(A_L * t))) / erfc(lam * np.sqrt(A_S / A_L))
    return np.where(x < 2 * lam * np.sqrt(A_S * t), frozen, thawed)


@cache
def nodes() -> np.ndarray:
    widths = GROWTH ** (np.arange(CELLS) / (CELLS - 1))
    face = np.concatenate([[0.0], DEPTH * np.cumsum(widths) / widths.sum()])
    return (face[1:] + face[:-1]) / 2


@cache
def solved(T_s: float, T_i: float) -> np.ndarray:
    """Temperatures (days, cells), from freezing [K]."""
    layer = {
        "name": "ground",
        "thickness": DEPTH,
        "conductivity": K_L,
        "density": RHO,
        "specific_heat": C_L,
        "cells": CELLS,
        "growth": GROWTH,
        "freezing": {"water": WATER, "start": T_F, "range": RANGE, "conductivity": K_S, "specific_heat": C_S},
    }
    surface = {"kind": "temperature", "time": [0.0], "value": [T_F + T_s]}
    times = [DAY * d for d in DAYS]
    T, _ = libcure.solve_wall(
        "slab", 0.0, [layer], surface, {"kind": "insulated"}, np.full(CELLS, T_F + T_i), times, tolerance=(5e-3, 1e-6)
    )
    return T - T_F


@cache
def compare() -> list[Comparison]:
    rows = []
    for T_s, T_i in SETTINGS:
        for day, T in zip(DAYS, solved(T_s, T_i), strict=True):
            front = 2 * growth_constant(T_s, T_i) * np.sqrt(A_S * DAY * day)
            own = float(np.interp(-0.5 * RANGE, T, nodes()))
            what = f"surface {T_s:g} °C, ground {T_i:g} °C, day {day:g}"
            rows.append(Comparison("Carslaw & Jaeger 1959", f"{what}: front", 1e3 * front, 1e3 * own, "mm", 20 * front, "closed form"))
        for depth in (0.25, 0.5, 1.0):
            published = float(exact(np.array(depth), DAY * DAYS[-1], T_s, T_i))
            own = float(np.interp(depth, nodes(), T))
            rows.append(
                Comparison(
                    "Carslaw & Jaeger 1959",
                    f"{what}: temperature at {depth:g} m",
                    published,
                    own,
                    "°C",
                    0.01 * (T_i - T_s),
                    "closed form",
                )
            )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    t = np.linspace(0, DAYS[-1], 100)
    x = np.linspace(0, 2, 400)
    for i, (T_s, T_i) in enumerate(SETTINGS):
        label = f"{T_s:g} on {T_i:g} °C"
        left.plot(t, 2e3 * growth_constant(T_s, T_i) * np.sqrt(A_S * DAY * t), color=f"C{i}", label=label)
        left.plot(
            DAYS,
            [1e3 * np.interp(-0.5 * RANGE, T, nodes()) for T in solved(T_s, T_i)],
            "o",
            color=f"C{i}",
            ms=4,
            mfc="none",
        )
        right.plot(x, exact(x, DAY * DAYS[-1], T_s, T_i), color=f"C{i}")
        right.plot(nodes()[::6], solved(T_s, T_i)[-1][::6], "o", color=f"C{i}", ms=3, mfc="none")
    left.set(xlabel="time [days]; circles: the wall", ylabel="front [mm]")
    left.legend(fontsize=7, frameon=False)
    right.set(xlabel="depth [m]", ylabel="temperature after ten days [°C]", xlim=(0, 2))
