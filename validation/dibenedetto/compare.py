from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure.validation import Comparison, resin_variant


def with_lambda(value: float) -> libcure.Resin:
    def quantity(x: float, unit: str) -> dict[str, Any]:
        return {"value": x, "unit": unit, "basis": "assumption", "source": "none", "where": "check"}

    return resin_variant(
        "epoxy-amine-medium",
        {
            "glass_transition": {
                "Tg0": quantity(-40, "degC"),
                "Tg_inf": quantity(100, "degC"),
                "lambda": quantity(value, "1"),
            }
        },
    )


def Tg(resin: libcure.Resin, alpha: float) -> float:
    return float(resin.glass_transition([alpha])[0]) - 273.15


@cache
def compare() -> list[Comparison]:
    rows = []
    for alpha in (0.25, 0.5, 0.9):
        rows.append(
            Comparison(
                "Pascault & Williams 1990",
                f"lambda = 1 at alpha = {alpha}",
                -40 + 140 * alpha,
                Tg(with_lambda(1.0), alpha),
                "°C",
                1e-9,
                "closed form",
            )
        )
    for value in (0.2, 0.5, 2.0):
        rows.append(
            Comparison(
                "Pascault & Williams 1990",
                f"lambda = {value} at full cure",
                100.0,
                Tg(with_lambda(value), 1.0),
                "°C",
                1e-9,
                "closed form",
            )
        )
        y = (Tg(with_lambda(value), 0.3) + 40) / 140
        rows.append(
            Comparison(
                "Pascault & Williams 1990",
                f"inverse by 1/lambda, lambda = {value}",
                0.3,
                (Tg(with_lambda(1 / value), y) + 40) / 140,
                "1",
                1e-9,
                "closed form",
            )
        )
    resin = libcure.load_resin("aerospace-epoxy-johnston-1997")
    for alpha, published in ((0.25, 29.46), (0.5, 72.62), (0.75, 136.93)):
        rows.append(
            Comparison(
                "Hubert et al. 2001",
                f"Tg at alpha = {alpha}",
                published,
                Tg(resin, alpha),
                "°C",
                0.01,
                "two codes",
            )
        )
    return rows


def figure(fig: Any) -> None:
    ax = fig.subplots()
    alpha = np.linspace(0, 1, 200)
    for value in (0.2, 0.5, 1.0, 2.0):
        ax.plot(alpha, with_lambda(value).glass_transition(alpha) - 273.15, label=f"λ = {value}")
    ax.plot(
        alpha,
        libcure.load_resin("aerospace-epoxy-johnston-1997").glass_transition(alpha) - 273.15,
        "k--",
        label="Hubert et al. 2001",
    )
    ax.set(xlabel="degree of cure", ylabel="Tg [°C]")
    ax.legend(fontsize=7, frameon=False)
