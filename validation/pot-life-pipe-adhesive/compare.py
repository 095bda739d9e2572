from __future__ import annotations

import math
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import libcure
from libcure import zero_d
from libcure.documents import read_object
from libcure.validation import Comparison, load_script, sampled_band

samples = load_script(Path(__file__).parents[1] / "sampled_resins.py").samples
SUBJECT = "gel and pot life"
SOURCE = "pipe maker's installation instructions"
RESINS = ("epoxy-amine-fast", "epoxy-amine-medium", "epoxy-amine-slow")
VOLUME, FILM = 6.8 * 29.5735e-6, 8.0  # 6.8 US fluid ounces [m3]; assumed film [W/(m2 K)]


def kelvin(fahrenheit: np.ndarray) -> np.ndarray:
    return (fahrenheit - 32) / 1.8 + 273.15


@cache
def table() -> pd.DataFrame:
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    return data.assign(T=kelvin(data["temperature_F"].to_numpy()))


@cache
def can(name: str, T: float, sample: int | None = None) -> tuple[np.ndarray, np.ndarray, float]:
    """Times [s] and temperatures [K] of the can from T [K], and its pot life [s]; of the resin or of one of its samples."""
    resin = libcure.load_resin(name) if sample is None else samples(name)[sample]
    limit = read_object(libcure.models_folder() / "resins" / f"{name}.json")["working_limit"]["viscosity"]["value"]
    radius = (VOLUME / (2 * math.pi)) ** (1 / 3)
    times = np.linspace(0, 5 * 3600, 9001)
    hot, alpha = zero_d.lumped(
        resin, T, times, mass=VOLUME * resin.density, surface_area=6 * math.pi * radius**2, h=FILM, ambient=T
    )
    thick = resin.viscosity(hot[0], alpha[0]) >= limit
    return times, hot[0], float(times[thick.argmax()]) if thick.any() else math.nan


@cache
def nearest() -> str:
    """The resin whose pot life at 70 degF comes nearest to the table's."""
    T = float(table()["T"][1])
    return min(RESINS, key=lambda name: abs(can(name, T)[2] / 60 - float(table()["pot_life_min"][1])))


def film(name: str, T: float) -> float:
    """Time in which a thin film reaches its release degree of cure [s]."""
    alpha_min = read_object(libcure.models_folder() / "resins" / f"{name}.json")["release"]["alpha_min"]["value"]
    times = np.linspace(0, 60 * 3600, 30001)
    alpha = zero_d.isothermal(libcure.load_resin(name), T, times)[0]
    return float(np.interp(alpha_min, alpha, times)) if alpha[-1] >= alpha_min else math.nan


def ratios(T: float, T_over: float) -> list[float]:
    """Pot life at one temperature over that at another [K], for samples of the nearest resin."""
    return [can(nearest(), T, i)[2] / can(nearest(), T_over, i)[2] for i in range(32)]


def rounding(a: float, b: float, step_a: float, step_b: float) -> float:
    """What half steps of rounding make of the ratio a/b."""
    return a / b * math.hypot(step_a / a, step_b / b)


@cache
def compare() -> list[Comparison]:
    data, rows = table(), []
    T, F, life = data["T"].to_numpy(), data["temperature_F"].to_numpy(), data["pot_life_min"].to_numpy()
    step = np.where(life > 10, 2.5, 0.5)
    for i, j in ((0, 1), (1, 2), (2, 3), (0, 3)):
        rows.append(
            Comparison(SOURCE, f"pot life at {F[i]:g} °F over that at {F[j]:g} °F, {nearest()} in its can", life[i] / life[j],
                can(nearest(), T[i])[2] / can(nearest(), T[j])[2], "1", rounding(life[i], life[j], step[i], step[j]),
                "another material", subject=SUBJECT, band=sampled_band(ratios(T[i], T[j])))
        )  # fmt: skip
    hours = data["cure_time_h"].to_numpy()
    rows.append(
        Comparison(SOURCE, f"cure time at 60 °F over that at 70 °F, film of {nearest()}", hours[0] / hours[1],
            film(nearest(), T[0]) / film(nearest(), T[1]), "1", rounding(hours[0], hours[1], 0.5, 0.5), "another material", subject=SUBJECT)
    )  # fmt: skip
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    data = table()
    life = data["pot_life_min"].dropna()
    left.semilogy(data["temperature_F"][: len(life)], life, "ko", ms=4, label="table")
    fine = np.linspace(55, 105, 11)
    for i, name in enumerate(RESINS):
        left.semilogy(fine, [can(name, float(T))[2] / 60 for T in kelvin(fine)], color=f"C{i}", label=f"{name}, can")
    left.set(xlabel="temperature [°F]", ylabel="pot life [min]")
    left.legend(fontsize=6, frameon=False)
    for F in (60.0, 70.0, 80.0, 100.0):
        times, hot, life_s = can(nearest(), float(kelvin(np.array(F))))
        (line,) = right.plot(times / 60, hot - 273.15, lw=1.2, label=f"{F:g} °F")
        right.plot(life_s / 60, np.interp(life_s, times, hot) - 273.15, "o", color=line.get_color(), ms=4)
    right.set(xlim=(0, 120), xlabel="time [min]", ylabel=f"temperature of the can [°C]\n{nearest()}; dots: pot life")
    right.legend(fontsize=6, frameon=False)
