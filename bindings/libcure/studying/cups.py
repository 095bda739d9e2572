"""Cups of mixed resin: a mass that heats itself and loses heat to the air."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from libcure import _core
from libcure.documents.part import Part
from libcure.errors import input_error
from libcure.following.readings import read_readings
from libcure.studying.reading import NEVER, ZERO, Component, Floats, Made, Reading, grid, time_to

__all__ = ["CUPS", "CUP_SD", "read_cup"]

CUPS: Mapping[str, float] = MappingProxyType({"plastic": 0.145, "paper": 0.145, "foam": 0.07, "metal": 0.2})
"""Heat loss of 100 g in a cup, [W/K]: computed for still air (free convection and radiation, as in handbooks), ± 25 %; foam and metal
are assumptions."""
CUP_SD = 0.25



def read_cup(r: Reading) -> Made:
    f = r.f
    mass = f["mass_g"] / 1e3
    air = r.temperature("air")
    log = _cup_log(f, r.beside) if "log" in f else {}
    start = log.get("start", air) if "start" not in r else r.temperature("start")
    loss = CUPS[f["cup"]] * (mass / 0.1) ** (2.0 / 3.0)
    marks: list[tuple[str, float, float]] = []  # what, target [K] or 0, minutes
    components = []
    # One lump stands for a cup: 8 % of a time, 8 K of a peak; probe and hand 6 % and 6 K (assumptions).
    if "gel_min" in f:
        marks.append(("gel", 0.0, f["gel_min"]))
    for mark in f.parts("reaches"):
        reading = Reading(mark, r.beside)
        marks.append(("reaches", reading.temperature("temperature"), reading.time()))
    marks += [("reaches", T, minutes) for T, minutes in log.get("reaches", [])]
    components += [
        Component(what if target == 0.0 else f"reaches {target - ZERO:.3g} °C", math.log(minutes), r.sd(0.10), "min") for what, target, minutes in marks
    ]
    peak = r.temperature("peak") if "peak" in r else log.get("peak")
    peak_min = f.get("peak_min", log.get("peak_min"))
    half_min = log.get("half_min")
    if peak is not None:
        components.append(Component("peak", peak, r.sd(10.0, "peak_sd"), "°C"))
    if peak_min is not None:
        components.append(Component("time of the peak", math.log(peak_min), r.sd(0.10), "min"))
    if half_min is not None:
        components.append(Component("cooled half way", math.log(half_min), r.sd(0.12), "min"))
    if not components:
        raise f.refuse_words("gel_min", "missing", "gel_min, peak_C, peak_min, reaches, or a log")
    longest = max([m for _, _, m in marks] + [m for m in (peak_min, half_min) if m is not None] or [120.0])
    t = np.concatenate([[1.0], grid(150.0 * longest)])

    def ask(resin: _core.Resin, factor: float) -> list[float]:
        states = resin.lumped(np.array([start]), mass, 1.0, loss * factor, air, t, resin.initial_degree_of_cure)
        hot, alpha = states[0][0], states[1][0]
        found = [_crossing(t, alpha, resin.alpha_gel) if target == 0.0 else _crossing(t, hot, target) for _, target, _ in marks]
        top = int(hot.argmax())
        if peak is not None:
            found.append(float(hot[top]))
        if peak_min is not None:
            found.append(math.log(t[top] / 60.0))
        if half_min is not None:
            falling = hot[top:] <= air + 0.5 * (hot[top] - air)
            found.append(math.log(t[top + int(falling.argmax())] / 60.0) if falling.any() else NEVER)
        return found

    return components, ask, start - ZERO, longest


def _crossing(t: Floats, value: Floats, target: float) -> float:
    """ln of the first time [min] at a target."""
    at = np.flatnonzero(value >= target)
    if at.size == 0:
        return NEVER
    first = int(at[0])
    met = np.zeros(t.size, bool)
    met[first:] = True
    return time_to(met, t, value, target)


def _cup_log(f: Part, beside: Path) -> dict[str, Any]:
    """What a log of a cup shows: its start, marks on the rise, the peak, and when half of the excess is lost."""
    path = beside / f["log"]
    log = read_readings(path, channel=f.get("channel", ""), mixed_at=f.get("mixed_at", ""))
    good = np.isfinite(log.time) & np.isfinite(log.temperature) & (log.time >= 0.0)
    t, T = log.time[good] / 60.0, log.temperature[good]
    if t.size < 5 or not (np.diff(t) > 0.0).all():
        raise input_error("rows", f"{t.size} of numbers", "5 or more, times rising", str(path))
    top = int(T.argmax())
    found: dict[str, Any] = {"start": float(T[0]), "peak": float(T[top]), "peak_min": float(max(t[top], 0.1))}
    rise = T[top] - T[0]
    if rise < 3.0:
        raise input_error("temperature_C", f"rises by {rise:.1f} K", "a rise of 3 K or more: else the log says nothing of the cure", str(path))
    targets = [T[0] + rise * share for share in (0.25, 0.5)]
    found["reaches"] = [(float(target), float(max(np.interp(target, T[: top + 1], t[: top + 1]), 0.1))) for target in targets]
    low = T[top] - 0.5 * rise
    after = np.flatnonzero(T[top:] <= low)
    if after.size:
        found["half_min"] = float(t[top + int(after[0])])
    return found
