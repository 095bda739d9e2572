from __future__ import annotations

import json
from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure.models import ids
from libcure.validation import Comparison


def resins() -> list[str]:
    folder = libcure.models_folder() / "resins"
    return [n for n in ids("resins") if json.loads((folder / f"{n}.json").read_text())["format"] == "libcure/resin/1"]


@cache
def runs() -> dict[str, tuple[np.ndarray, np.ndarray, np.ndarray, float]]:
    """Times [s], temperatures [K], degrees of cure and H/cp [K] by resin."""
    found = {}
    for name in resins():
        resin = libcure.load_resin(name)
        folder = libcure.models_folder() / "resins"
        document = json.loads((folder / f"{name}.json").read_text())
        unit = {"kJ/kg": 1e3, "J/kg": 1.0, "J/(kg K)": 1.0, "J/(g K)": 1e3, "kJ/(kg K)": 1e3, "kg/m3": 1.0}
        H, cp, rho = (
            document[key]["value"] * unit[document[key]["unit"]]
            for key in ("heat_of_reaction", "specific_heat", "density")
        )
        layer = {"name": name, "thickness": 0.01, "conductivity": 0.2, "density": rho, "specific_heat": cp, "cells": 4}
        T0 = max(293.15, resin.temperature_min)
        times = np.concatenate([[0.0], np.geomspace(1.0, 86400.0, 400)])
        none = {"kind": "insulated"}
        T, alpha = libcure.solve_wall("slab", 0.0, [layer], none, none, np.full(4, T0), times, resin, 0, rho * H)
        found[name] = (times, T[:, 0], alpha[:, 0], H / cp)
    return found


@cache
def compare() -> list[Comparison]:
    rows = []
    for name, (_, T, alpha, rise) in runs().items():
        per_alpha = float((T[-1] - T[0]) / (alpha[-1] - alpha[0]))
        rows.append(
            Comparison(
                "first law",
                f"{name}: rise per conversion",
                rise,
                per_alpha,
                "K",
                1e-6 * rise,
                "closed form",
                note=f"cured to {alpha[-1]:.3f}, {T[-1] - 273.15:.0f} °C",
            )
        )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    for i, (name, (t, T, alpha, _)) in enumerate(runs().items()):
        style = ("-", "--", ":")[i // 5 % 3]
        left.semilogx(t[1:] / 60, T[1:] - 273.15, style, color=f"C{i % 5}", lw=1, label=name)
        right.plot(alpha, T - 273.15, style, color=f"C{i % 5}", lw=1)
    left.set(xlabel="time [min]", ylabel="temperature [°C]")
    right.set(xlabel="degree of cure")
    fig.legend(*left.get_legend_handles_labels(), fontsize=5, ncols=3, loc="outside lower center", frameon=False)
