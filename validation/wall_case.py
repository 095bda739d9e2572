"""A wall as a document, solved by libcure and by SciPy on independently written equations.

A document has units in its keys; lengths in mm, times in min, temperatures in °C:

    {"format": "libcure/validation-wall/1", "note": "...", "geometry": "slab" | "cylinder", "inner_radius_mm": 0,
     "layers": [{"name", "thickness_mm", "conductivity_W_mK", "density_kg_m3", "specific_heat_J_kgK", "cells",
                 "start_temperature_C", "contact_outside_m2K_W" (may be left out)}, ...],
     "inner", "outer": {"kind": "insulated"} | {"kind": "temperature", "temperature_C"}
                       | {"kind": "convection", "h_W_m2K", "temperature_C"},
     "resin": id, "curing_layer": name, "heat_of_full_cure_MJ_m3", "initial_degree_of_cure"}

A temperature is a number, or {"time_min": [...], "value_C": [...]}, linear between.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

import libcure
from libcure.documents import read_object
from libcure.errors import input_error
from libcure.validation import load_script

other = load_script(Path(__file__).with_name("independent_wall.py"))
Solution = tuple[np.ndarray, np.ndarray]
KEYS = ("format", "note", "geometry", "inner_radius_mm", "layers", "inner", "outer", "resin", "curing_layer",
        "heat_of_full_cure_MJ_m3", "initial_degree_of_cure")  # fmt: skip
LAYER_KEYS = {
    "name": "name", "thickness_mm": "thickness", "conductivity_W_mK": "conductivity", "density_kg_m3": "density",
    "specific_heat_J_kgK": "specific_heat", "cells": "cells", "start_temperature_C": "start",
    "contact_outside_m2K_W": "contact_outside",
}  # fmt: skip


def take(document: dict[str, Any], known: tuple[str, ...], optional: tuple[str, ...], where: str, path: Path) -> None:
    for key in document:
        if key not in known:
            raise input_error(f"{where}{key}", "given", f"one of {', '.join(known)}", str(path))
    for key in known:
        if key not in document and key not in optional:
            raise input_error(f"{where}{key}", "missing", "given", str(path))


def table(temperature: Any) -> tuple[np.ndarray, np.ndarray]:
    """Times [s] and temperatures [K]."""
    if isinstance(temperature, dict):
        return 60.0 * np.array(temperature["time_min"], float), np.array(temperature["value_C"], float) + 273.15
    return np.zeros(1), np.array([temperature + 273.15])


@dataclass
class WallCase:
    geometry: str
    inner_radius: float
    layers: list[dict[str, Any]]
    inner: dict[str, Any]
    outer: dict[str, Any]
    start: np.ndarray
    resin: str
    curing: int
    heat: float
    """Of full cure [J/m3]."""
    alpha0: float

    def ours(self, times: np.ndarray, tolerance: tuple[float, float] = (5e-3, 1e-6)) -> Solution:
        """Temperatures (times, cells) [K] and degrees of cure (times, curing cells) of libcure."""
        return libcure.solve_wall(
            self.geometry, self.inner_radius, self.layers, surface(self.inner), surface(self.outer), self.start, times,
            libcure.load_resin(self.resin), self.curing, self.heat, self.alpha0, tolerance,
        )  # fmt: skip

    def theirs(self, times: np.ndarray, rate: Callable[[np.ndarray, np.ndarray], np.ndarray], rtol: float = 1e-8) -> Solution:  # fmt: skip
        """The same of SciPy."""
        corners = sorted({float(t) for side in (self.inner, self.outer) for t in medium(side)[0] if t > 0})
        return other.solve(
            self.geometry, self.inner_radius, self.layers, follow(self.inner), follow(self.outer), self.start, times,
            rate, self.curing, self.heat, self.alpha0, tuple(corners), rtol=rtol,
        )  # fmt: skip


def medium(side: dict[str, Any]) -> tuple[np.ndarray, np.ndarray]:
    """Times [s] and temperatures [K] of what a surface meets."""
    return table(side.get("temperature_C", 0.0))


def surface(side: dict[str, Any]) -> dict[str, Any]:
    """As libcure takes it."""
    time, value = (list(x) for x in medium(side))
    if side["kind"] == "temperature":
        return {"kind": "temperature", "time": time, "value": value}
    if side["kind"] == "convection":
        temperature = {"time": time, "value": value} if len(time) > 1 else value[0]
        return {"kind": "convection", "h": side["h_W_m2K"], "temperature": temperature}
    return {"kind": side["kind"]}


def follow(side: dict[str, Any]) -> Callable[[float], tuple[float, float]] | None:
    """As the other code takes it."""
    if side["kind"] == "insulated":
        return None
    time, value = medium(side)
    h = side["h_W_m2K"] if side["kind"] == "convection" else np.inf
    return lambda t: (h, float(np.interp(t, time, value)))


def load(path: Path) -> WallCase:
    """Reads a document. Raises CureError for a key that is missing or not known."""
    document = read_object(path)
    take(document, KEYS, (), "", path)
    if document["format"] != "libcure/validation-wall/1":
        raise input_error("format", f'"{document["format"]}"', "libcure/validation-wall/1", str(path))
    layers, start, names = [], [], []
    for i, item in enumerate(document["layers"]):
        take(item, tuple(LAYER_KEYS), ("contact_outside_m2K_W",), f"layers[{i}].", path)
        layer = {LAYER_KEYS[key]: value for key, value in item.items()}
        layer["thickness"] *= 1e-3
        start += [layer.pop("start") + 273.15] * layer["cells"]
        names.append(layer["name"])
        layers.append(layer)
    for name in ("inner", "outer"):
        take(document[name], ("kind", "h_W_m2K", "temperature_C"), ("h_W_m2K", "temperature_C"), f"{name}.", path)
    if document["curing_layer"] not in names:
        raise input_error("curing_layer", f'"{document["curing_layer"]}"', f"one of {', '.join(names)}", str(path))
    return WallCase(
        document["geometry"], 1e-3 * document["inner_radius_mm"], layers, document["inner"], document["outer"],
        np.array(start), document["resin"], names.index(document["curing_layer"]),
        1e6 * document["heat_of_full_cure_MJ_m3"], document["initial_degree_of_cure"],
    )  # fmt: skip
