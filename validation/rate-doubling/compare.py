from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq

import libcure
from libcure.validation import Comparison, resin_variant

R = 8.31446261815324
EPOXY = ("epoxy-amine-fast", "epoxy-amine-medium", "epoxy-amine-slow", "epoxy-amine-mechanistic")
STYRENE = ("vinyl-ester-cold", "unsaturated-polyester-cold")


def gel_time(resin: libcure.Resin, T: float) -> float:
    """Time to gel of a thin film at T [K], in [s]."""
    a0 = resin.initial_degree_of_cure

    def short(log_t: float) -> float:
        return float(resin.isothermal([T], [np.exp(log_t)], a0)[0, 0]) - resin.alpha_gel

    return float(np.exp(brentq(short, np.log(30.0), np.log(4e5), xtol=1e-6)))


@cache
def gel_times(name: str) -> tuple[np.ndarray, np.ndarray]:
    T = 273.15 + np.array([5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0])
    return T, np.array([gel_time(libcure.load_resin(name), x) for x in T])


@cache
def compare() -> list[Comparison]:
    rows = []
    for name in EPOXY + STYRENE:
        T, t = gel_times(name)
        rows.append(
            Comparison(
                "guide to resin systems",
                f"{name}: gel time at 20 °C over 30 °C",
                25 / 12,
                float(t[3] / t[5]),
                "1",
                0.4,
                "published model",
            )
        )
        if name in STYRENE:
            resin = libcure.load_resin(name)
            ratio = gel_time(resin, 294.26) / gel_time(resin, 299.82)
            rows.append(
                Comparison(
                    "materials selection guide",
                    f"{name}: gel time at 70 °F over 80 °F",
                    1.6,
                    ratio,
                    "1",
                    0.4,
                    "published model",
                )
            )
        E = float(np.polyfit(1 / T, np.log(t), 1)[0]) * R / 1e3
        middle, half = (57.5, 4.5) if name in EPOXY else (50.0, 12.0)
        source = "Thermochim. Acta 2006" if name in EPOXY else "J. Appl. Polym. Sci. 2006"
        rows.append(
            Comparison(source, f"{name}: activation energy of the gel time", middle, E, "kJ/mol", half, "calibration")
        )
    for T1, E in ((10, 47.84), (20, 51.22), (25, 52.95)):

        def quantity(value: float, unit: str) -> dict[str, Any]:
            return {"value": value, "unit": unit, "basis": "assumption", "source": "none", "where": "check"}

        resin = resin_variant(
            "polyurethane-winkler-2009",
            {
                "rate": {
                    "law": "nth-order",
                    "k": {"A": quantity(1e4, "1/s"), "E": quantity(E, "kJ/mol")},
                    "n": quantity(1, "1"),
                }
            },
        )
        cold, warm = resin.rate([T1 + 273.15, T1 + 283.15], [0.2, 0.2])
        rows.append(
            Comparison(
                "Arrhenius",
                f"rate at {T1 + 10} °C over {T1} °C with E = {E} kJ/mol",
                2.0,
                float(warm / cold),
                "1",
                1e-3,
                "closed form",
            )
        )
    return rows


def figure(fig: Any) -> None:
    ax = fig.subplots()
    for i, name in enumerate(EPOXY + STYRENE):
        T, t = gel_times(name)
        ax.semilogy(T - 273.15, t / 60, "o-", color=f"C{i}", mfc="none", label=name)
    ax.plot([20, 30], [25, 12], "k--s", label="guide: 25 min, 12 min")
    ax.fill_between([21.1, 26.7], [30, 20], [40, 25], color="0.85", label="guide: 30-40, 20-25 min", zorder=0)
    ax.set(xlabel="temperature [°C]", ylabel="gel time of a thin film [min]")
    ax.legend(fontsize=7, frameon=False)
