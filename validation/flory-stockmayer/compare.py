from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import brentq

import libcure
from libcure.validation import Comparison

DATA = Path(__file__).with_name("data.csv")
EPOXIDE = 100 / 190.0  # groups in 100 g of resin [mol]
AMINE = 12 / 105.14  # diethanolamine [mol]


def gel(f: float, g: float, r: float = 1.0) -> float:
    return libcure.zero_d.flory_stockmayer_gel_point(f, g, r)


def diethanolamine_gel() -> float:
    """Extent of the hydroxyl step at the gel point."""
    first = AMINE / EPOXIDE

    def miss(alpha: float) -> float:
        mean = alpha * EPOXIDE / AMINE - 1
        weight_average = (1 + 3 * mean + mean**2) / (1 + mean)
        return alpha - gel(2.0, weight_average) ** 2

    return (brentq(miss, 0.4, 0.9) - first) / (1 - first)


@cache
def compare() -> list[Comparison]:
    rows = [
        Comparison(
            "Flory 1941, Stockmayer 1943",
            f"{pair}, f {f:g}, g {g:g}, r {r:g}",
            alpha,
            gel(f, g, r),
            "1",
            5e-6,
            "closed form",
        )
        for pair, f, g, r, alpha in pd.read_csv(DATA).itertuples(index=False)
    ]
    rows.append(
        Comparison(
            "McCoy, House & Kropka 2020",
            "diepoxide and diethanolamine",
            0.42,
            diethanolamine_gel(),
            "1",
            0.05,
            "from memory",
            note="42 ± 3 % is measured; the mix ratio behind the computed value is from memory",
        )
    )
    return rows


def figure(fig: Any) -> None:
    ax = fig.subplots()
    g = np.linspace(2.5, 8, 100)
    for r in (1.0, 0.8, 0.6):
        ax.plot(g, [gel(2.0, x, r) if r * (x - 1) > 1 else np.nan for x in g], label=f"f = 2, r = {r}")
    data = pd.read_csv(DATA)
    ax.plot(data["g [1]"], data["alpha_gel [1]"], "o", mfc="none", label="table")
    ax.axhspan(0.39, 0.45, color="0.9", zorder=0, label="42 ± 3 % measured")
    ax.set(xlabel="functionality g", ylabel="conversion at the gel point")
    ax.legend(fontsize=7, frameon=False)
