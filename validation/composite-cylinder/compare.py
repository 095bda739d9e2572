from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure.validation import Comparison

RADIUS, H, T_IN, T_OUT = 0.045, 60.0, 333.15, 281.15
LAYERS = [
    {
        "name": name,
        "thickness": thickness,
        "conductivity": k,
        "density": 1200.0,
        "specific_heat": 1400.0,
        "cells": cells,
        "growth": growth,
        "contact_outside": contact,
    }
    for name, thickness, k, cells, growth, contact in (
        ("bladder", 0.003, 0.25, 6, 1.0, 0.0),
        ("liner", 0.005, 0.35, 10, 1.0, 0.002),
        ("pipe", 0.006, 0.17, 8, 1.0, 0.0),
        ("ground", 0.5, 1.5, 30, 20.0, 0.0),
    )
]


@cache
def exact() -> tuple[float, list[tuple[float, float]]]:
    """Heat flow [W/m], and radius with temperature at each face, inner surface first."""
    edges = RADIUS + np.cumsum([0.0] + [layer["thickness"] for layer in LAYERS])
    resistances = [1 / (H * 2 * np.pi * edges[0])]
    for layer, a, b in zip(LAYERS, edges, edges[1:], strict=False):
        resistances.append(
            np.log(b / a) / (2 * np.pi * layer["conductivity"]) + layer["contact_outside"] / (2 * np.pi * b)
        )
    q = (T_IN - T_OUT) / sum(resistances)
    return q, list(zip(edges, T_IN - q * np.cumsum(resistances), strict=True))


@cache
def nodes() -> np.ndarray:
    face = [RADIUS]
    for layer in LAYERS:
        ratio = layer["growth"] ** (1 / (layer["cells"] - 1))
        widths = ratio ** np.arange(layer["cells"])
        face += list(face[-1] + layer["thickness"] * np.cumsum(widths) / widths.sum())
    return (np.array(face[1:]) + np.array(face[:-1])) / 2


@cache
def steady() -> np.ndarray:
    n = sum(layer["cells"] for layer in LAYERS)
    T, _ = libcure.solve_wall(
        "cylinder",
        RADIUS,
        LAYERS,
        {"kind": "convection", "h": H, "temperature": T_IN},
        {"kind": "temperature", "time": [0.0], "value": [T_OUT]},
        np.full(n, T_OUT),
        [0.0, 1e8],
        tolerance=(1e-4, 1e-6),
    )
    return T[-1]


def closed(r: float) -> float:
    """Exact temperature at radius r [K]."""
    q, faces = exact()
    edges = RADIUS + np.cumsum([0.0] + [layer["thickness"] for layer in LAYERS])
    i = min(int(np.searchsorted(edges, r, side="right")) - 1, len(LAYERS) - 1)
    # From the outer face of the layer inwards; the contact lies outside it.
    outer = faces[i + 1][1] + q * LAYERS[i]["contact_outside"] / (2 * np.pi * edges[i + 1])
    return outer + q * np.log(edges[i + 1] / r) / (2 * np.pi * LAYERS[i]["conductivity"])


@cache
def compare() -> list[Comparison]:
    r, T = nodes(), steady()
    rows = []
    first = 0
    for layer in LAYERS:
        last = first + layer["cells"] - 1
        for which, i in (("first", first), ("last", last)):
            rows.append(
                Comparison(
                    "Carslaw & Jaeger 1959",
                    f"{layer['name']}, {which} node",
                    closed(r[i]) - 273.15,
                    float(T[i]) - 273.15,
                    "°C",
                    1e-4,
                    "closed form",
                )
            )
        first = last + 1
    # The two layers' logarithmic profiles, each through its last two nodes, meet the contact.
    face = RADIUS + LAYERS[0]["thickness"] + LAYERS[1]["thickness"]
    i = LAYERS[0]["cells"] + LAYERS[1]["cells"]

    def at_face(a: int, b: int) -> float:
        return float(T[a] + (T[b] - T[a]) * np.log(face / r[a]) / np.log(r[b] / r[a]))

    jump = exact()[0] * LAYERS[1]["contact_outside"] / (2 * np.pi * face)
    own = at_face(i - 2, i - 1) - at_face(i + 1, i)
    rows.append(Comparison("Carslaw & Jaeger 1959", "jump at the contact", jump, own, "K", 1e-4, "closed form"))
    half = np.log(r[0] / RADIUS) / (2 * np.pi * LAYERS[0]["conductivity"]) + 1 / (H * 2 * np.pi * RADIUS)
    q = exact()[0]
    rows.append(
        Comparison("Carslaw & Jaeger 1959", "heat flow", q, float((T_IN - T[0]) / half), "W/m", 1e-5 * q, "closed form")
    )
    return rows


def figure(fig: Any) -> None:
    ax = fig.subplots()
    r = np.geomspace(RADIUS, nodes()[-1], 1000)
    ax.semilogx(1e3 * r, [closed(x) - 273.15 for x in r], lw=1, label="closed form")
    ax.semilogx(1e3 * nodes(), steady() - 273.15, "o", ms=3, mfc="none", label="nodes")
    ax.set(xlabel="radius [mm]", ylabel="temperature [°C]")
    ax.legend(fontsize=7, frameon=False)
