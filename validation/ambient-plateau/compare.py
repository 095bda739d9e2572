from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure import Resin, zero_d
from libcure.validation import Comparison

EPOXY = ("epoxy-amine-fast", "epoxy-amine-medium", "epoxy-amine-slow", "epoxy-amine-mechanistic")
STYRENE = ("vinyl-ester-cold", "unsaturated-polyester-cold")
DAY, T = 86400.0, 296.15
SUBJECT = "Tg and plateau in the cold"


def cured(resin: Resin, days: float) -> float:
    """Degree of cure of a film at 23 °C."""
    return float(zero_d.isothermal(resin, [T], [days * DAY])[0, 0])


def tg(resin: Resin) -> float:
    """After 28 days [°C]."""
    return float(resin.glass_transition(cured(resin, 28.0))) - 273.15


@cache
def compare() -> list[Comparison]:
    rows = []
    for name in EPOXY:
        rows.append(
            Comparison("ACI 440.2R-17; review 2018", f"{name}: Tg of a film after 28 days at 23 °C", 63.5, tg(libcure.load_resin(name)), "°C", 18.5,
                "another material", subject=SUBJECT)
        )  # fmt: skip
    for name in STYRENE:
        rows.append(
            Comparison("Warner et al. 2004", f"{name}: degree of cure of a film after a day at 23 °C", 0.8, cured(libcure.load_resin(name), 1.0), "1",
                0.1, "another material", subject=SUBJECT)
        )  # fmt: skip
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    days = np.geomspace(0.02, 60.0, 100)
    left.axhspan(45, 82, color="0.9", label="published range, several methods")
    right.axhspan(0.75, 0.85, color="0.9", label="an acrylic at its stop")
    for name in EPOXY + STYRENE:
        resin = libcure.load_resin(name)
        alpha = zero_d.isothermal(resin, [T], days * DAY)[0]
        if name in EPOXY:
            left.semilogx(days, resin.glass_transition(alpha) - 273.15, label=name)
        else:
            right.semilogx(days, alpha, label=name)
    left.set(xlabel="days at 23 °C", ylabel="Tg of a film [°C]", ylim=(0, 90))
    right.set(xlabel="days at 23 °C", ylabel="degree of cure of a film")
    for ax in (left, right):
        ax.legend(fontsize=6, frameon=False)
