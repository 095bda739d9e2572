from __future__ import annotations

import json
import math
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from libcure.validation import Comparison, sampled_band

R = 8.31446261815324
HERE = Path(__file__).parent
ROUNDING = math.hypot(5.0 / 40.0, 10.0 / 60.0)


def ratio(E: np.ndarray | float, cold: float, warm: float) -> Any:
    """Pot life at cold over that at warm [°C], by E [kJ/mol]."""
    return np.exp(np.asarray(E) * 1e3 / R * (1 / (cold + 273.15) - 1 / (warm + 273.15)))


@cache
def compare() -> list[Comparison]:
    said = json.loads((HERE / "prediction.json").read_text(encoding="utf-8"))
    data = pd.read_csv(HERE / "data.csv")
    (warm, cold), (a, b) = data["temperature_C"].to_numpy(float), data["value"].to_numpy(float)
    rng = np.random.default_rng(24)
    E = rng.normal(said["E_kJ_mol"], said["sd_kJ_mol"], 20000)
    foretold = ratio(E, cold, warm) * (1.0 + ROUNDING / 2.0 * rng.normal(size=E.size))
    middle = float(ratio(said["E_kJ_mol"], cold, warm))
    half = 1.645 * said["sd_kJ_mol"] * math.log(middle) / said["E_kJ_mol"]
    return [
        Comparison("supplier's page", f"working time at {cold:g} °C over that at {warm:g} °C", b / a, middle, "1",
            b / a * math.hypot(half, ROUNDING), "another material", subject="gel and pot life", band=sampled_band(foretold), blind=True)
    ]  # fmt: skip


def figure(fig: Any) -> None:
    ax = fig.subplots()
    (row,) = compare()
    fine = np.linspace(5.0, 21.0, 50)
    for E, style in ((60.0, "-"), (50.1, "--"), (69.9, "--")):
        ax.plot(fine, ratio(E, fine, 21.0), "C0" + style, lw=1.2)
    ax.plot(10.0, row.published, "ks", label="supplier's round figures")
    ax.set(xlabel="temperature [°C]", ylabel="working time over that at 21 °C\nlines: foretold, and its 90 % band")
    ax.legend(fontsize=8, frameon=False)
