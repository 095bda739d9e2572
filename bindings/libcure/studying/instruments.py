"""Measurements that need an instrument: calorimeter, rheometer, mechanical test."""

from __future__ import annotations

import math

import numpy as np

from libcure import _core
from libcure.fitting import records
from libcure.fitting.record import read_csv
from libcure.studying.reading import ZERO, Component, Made, Reading

__all__ = [
    "read_conversion",
    "read_heat",
    "read_isothermal",
    "read_modulus",
    "read_peak",
    "read_ramp",
    "read_residual_heat",
    "read_shrinkage",
    "read_tg",
    "read_tg_full",
]

def read_conversion(r: Reading) -> Made:
    T, minutes = r.temperature("temperature"), r.time()
    gone = r.gone(T, minutes)
    alpha = float(r.f["alpha"])
    return [Component("degree of cure", alpha, r.sd(0.03), "")], lambda resin, _: [gone(resin)], T - ZERO, minutes


def read_residual_heat(r: Reading) -> Made:
    T, minutes = r.temperature("temperature"), r.time()
    gone = r.gone(T, minutes)
    share = float(r.f["share"])
    return [Component("heat that is left", share, r.sd(0.04), "")], lambda resin, _: [1.0 - gone(resin)], T - ZERO, minutes


def read_tg(r: Reading) -> Made:
    T, minutes = r.temperature("temperature"), r.time()
    method = r.f["method"]
    gone = r.gone(T, minutes)
    over = 10.0 if method == "dynamic onset" else 0.0  # from memory
    Tg = r.temperature("Tg")
    sd = r.sd(3.0 if over == 0.0 else 5.0)  # between laboratories (round robin on polystyrene, 2 K; networks wider)

    def ask(resin: _core.Resin, _: float) -> list[float]:
        return [float(resin.glass_transition(np.array([gone(resin)]))[0]) + over]

    return [Component("Tg", Tg, sd, "°C")], ask, T - ZERO, minutes


def read_tg_full(r: Reading) -> Made:
    Tg = r.temperature("Tg")
    return [Component("Tg when fully cured", Tg, r.sd(4.0), "°C")], lambda resin, _: [float(resin.glass_transition(np.ones(1))[0])], math.nan, 240.0


def read_heat(r: Reading) -> Made:
    heat = float(r.f["heat_kJ_kg"])
    return [Component("heat of reaction", math.log(heat), r.sd(0.05), "kJ/kg")], lambda resin, _: [math.log(resin.heat_of_reaction / 1e3)], math.nan, 120.0


def read_peak(r: Reading) -> Made:
    rate = float(r.f["heating_rate_K_min"])
    T = r.temperature("temperature")
    start = r.temperature("start")

    def ask(resin: _core.Resin, _: float) -> list[float]:
        temperatures = np.linspace(start, T + 120.0, 600)
        slope = resin.ramp(np.array([rate / 60.0]), temperatures, resin.initial_degree_of_cure)[1][0]
        return [float(temperatures[int(slope.argmax())])]

    return [Component("peak of the heat flow", T, r.sd(3.0), "°C")], ask, T - ZERO, (T - start) / rate


MARKS = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Shares of the heat of a ramp whose temperatures count: some five independent numbers, however many points the record has."""


def read_ramp(r: Reading) -> Made:
    """A calorimeter's record: the temperatures at shares of its heat, and the heat."""
    f = r.f
    rate = float(f["heating_rate_K_min"])
    mass = float(f["mass_mg"]) / 1e6
    up = f["exotherm"] == "up"
    run = records.analyse(read_csv(r.beside / f["file"], f.get("columns", {})), f.at("file"), mass_kg=mass, exotherm_up=up, heating_rate=rate / 60.0)
    at = [float(np.interp(share, run.alpha, run.T)) for share in MARKS]
    sd = r.sd(2.5)  # K: the heat's error moves the marks by some 1 to 2 K, the thermometer is good to 1 K (from memory)
    start = float(run.T[0])
    components = [Component(f"{100.0 * share:.0f} % of the heat", T, sd, "°C") for share, T in zip(MARKS, at, strict=True)]
    components.append(Component("heat of reaction", math.log(run.heat / 1e3), 0.05, "kJ/kg"))

    def ask(resin: _core.Resin, _: float) -> list[float]:
        temperatures = np.linspace(min(start, 253.15), at[-1] + 150.0, 600)
        alpha = resin.ramp(np.array([rate / 60.0]), temperatures, resin.initial_degree_of_cure)[0][0]
        shares = (alpha - alpha[0]) / max(alpha[-1] - alpha[0], 1e-9)
        return [*(float(np.interp(share, shares, temperatures)) for share in MARKS), math.log(resin.heat_of_reaction / 1e3)]

    return components, ask, at[2] - ZERO, (at[-1] - start) / rate


def read_isothermal(r: Reading) -> Made:
    """A calorimeter's record at one temperature: when shares of its heat had come, and the heat.

    What was lost while the sample settled, and a drifting baseline, move all of it: the defaults are wide (assumptions).
    """
    f = r.f
    T = r.temperature("temperature")
    mass = float(f["mass_mg"]) / 1e6
    up = f["exotherm"] == "up"
    run = records.analyse(read_csv(r.beside / f["file"], f.get("columns", {})), f.at("file"), mass_kg=mass, exotherm_up=up, isothermal=T)
    share = (run.alpha - run.alpha[0]) / (run.alpha[-1] - run.alpha[0])
    times = np.array([float(np.interp(mark, share, run.t)) for mark in MARKS])
    sd = r.sd(0.12)
    components = [Component(f"{100.0 * mark:.0f} % of its heat", math.log(t / 60.0), sd, "min") for mark, t in zip(MARKS, times, strict=True)]
    components.append(Component("its heat", math.log(run.heat / 1e3), 0.1, "kJ/kg"))
    end = float(run.t[-1])

    def ask(resin: _core.Resin, _: float) -> list[float]:
        t = np.concatenate([[0.0], np.geomspace(end / 2000.0, end, 400)])
        alpha = resin.isothermal(np.array([T]), t, resin.initial_degree_of_cure)[0]
        gone = max(float(alpha[-1] - alpha[0]), 1e-9)
        at = np.interp(MARKS, (alpha - alpha[0]) / gone, t)
        return [*(float(v) for v in np.log(np.maximum(at, 1.0) / 60.0)), math.log(resin.heat_of_reaction * gone / 1e3)]

    return components, ask, T - ZERO, end / 60.0


def read_modulus(r: Reading) -> Made:
    """Storage or bending modulus of a specimen after a cure, tested at the temperature of the cure."""
    T, minutes = r.temperature("temperature"), r.time()
    gone = r.gone(T, minutes)
    modulus = float(r.f["modulus_GPa"])

    def ask(resin: _core.Resin, _: float) -> list[float]:
        return [math.log(max(float(resin.modulus(np.array([T]), np.array([gone(resin)]))[0]), 1.0) / 1e9)]

    return [Component("modulus", math.log(modulus), r.sd(0.15), "GPa")], ask, T - ZERO, minutes


def read_shrinkage(r: Reading) -> Made:
    """Of the volume, from the liquid mix to the full cure."""
    percent = float(r.f["volume_percent"])
    return [Component("shrinkage", math.log(percent), r.sd(0.1), "%")], lambda resin, _: [math.log(100.0 * resin.shrinkage)], math.nan, 240.0
