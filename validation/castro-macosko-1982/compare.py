from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import libcure
from libcure.validation import Comparison, resin_variant

HERE = Path(__file__).parent


@cache
def resins() -> dict[str, libcure.Resin]:
    def quantity(value: float, unit: str) -> dict[str, Any]:
        return {"value": value, "unit": unit, "basis": "transcribed", "source": "castro1982", "where": "check"}

    found = {}
    for name, eta0, E, A, B, gel in pd.read_csv(HERE / "constants.csv").itertuples(index=False):
        found[name] = resin_variant(
            "polyurethane-program-constants",
            {
                "viscosity": {
                    "eta0": quantity(eta0, "Pa s"),
                    "E": quantity(E, "kJ/mol"),
                    "A": quantity(A, "1"),
                    "B": quantity(B, "1"),
                },
                "gel": {"alpha_gel": quantity(gel, "1")},
            },
        )
    return found


@cache
def compare() -> list[Comparison]:
    rows = []
    for name, T, alpha, eta in pd.read_csv(HERE / "data.csv").itertuples(index=False):
        computed = float(resins()[name].viscosity([T + 273.15], [alpha])[0])
        # The smallest printed values have three or four digits only.
        tolerance = max(1e-3 * eta, 0.5 * 10.0 ** -len(f"{eta!r}".partition(".")[2]))
        source = "Castro & Macosko 1982" if name.startswith("1982") else "J. Appl. Polym. Sci. 1996"
        rows.append(
            Comparison(
                source,
                f"viscosity, {name}, {T:g} °C, alpha = {alpha:g}",
                eta,
                computed,
                "Pa s",
                tolerance,
                "two codes",
            )
        )
    return rows


def figure(fig: Any) -> None:
    ax = fig.subplots()
    data = pd.read_csv(HERE / "data.csv")
    for i, ((name, T), group) in enumerate(data.groupby(["set", "temperature [degC]"])):
        alpha = np.linspace(0, resins()[name].alpha_gel - 0.01, 200)
        ax.semilogy(
            alpha, resins()[name].viscosity(np.full(200, T + 273.15), alpha), color=f"C{i}", label=f"{name}, {T} °C"
        )
        ax.semilogy(group["alpha [1]"], group["viscosity [Pa s]"], "o", color=f"C{i}", mfc="none")
    ax.set(xlabel="degree of cure", ylabel="viscosity [Pa s]", ylim=(1e-2, 1e5))
    ax.legend(fontsize=7, frameon=False)
