from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import least_squares

from libcure import Resin, zero_d
from libcure.validation import Comparison, normal_band, resin_variant

SOURCE = "Koh et al. 2015"
R, ROOM, SETS = 8.31446261815324, 293.15, 0.5
FITTED, FORETOLD = 24.0, 28.0


def resin(E: float) -> Resin:
    """First order, half done after 534 s at 20 °C, whatever E [kJ/mol]."""
    quantity = {"basis": "estimated", "source": "none", "where": "fit", "note": "fitted to four setting times"}
    k = {
        "k_ref": {"value": float(np.log(2.0) / 534.0), "unit": "1/s", **quantity},
        "E": {"value": float(E), "unit": "kJ/mol", **quantity},
        "T_ref": {"value": 20.0, "unit": "degC", **quantity},
    }
    law = {"law": "nth-order", "k": k, "n": {"value": 1.0, "unit": "1", **quantity}}
    return resin_variant("polyurethane-winkler-2009", {
        "rate": law, "diffusion": {"form": "none"}, "reference_outcomes": [],
        "initial_degree_of_cure": {"value": 0.0, "unit": "1", **quantity},
    })  # fmt: skip


@cache
def table() -> pd.DataFrame:
    return pd.read_csv(Path(__file__).with_name("data.csv")).dropna()


def setting(E: float, tau: float, stored_C: float, stood_min: np.ndarray) -> np.ndarray:
    """Setting times [s] of parts that stood in the room that long, relaxing to it with tau [min]."""
    t = np.linspace(0.0, 900.0, 901)
    T = ROOM + (stored_C + 273.15 - ROOM) * np.exp(-(np.asarray(stood_min)[:, None] + t / 60.0) / tau)
    alpha = zero_d.along(resin(E), t, T)
    return np.array([np.interp(SETS, row, t) for row in alpha])


@cache
def fitted() -> tuple[float, float]:
    """Activation energy [kJ/mol] and relaxation time [min] from the parts stored at 24 °C."""
    data = table()[table()["T_store_C"] == FITTED]

    def misses(x: np.ndarray) -> np.ndarray:
        own = setting(x[0], x[1], FITTED, data["t_eq_min"].to_numpy(float))
        return np.asarray((own - data["setting_time_s"].to_numpy(float)) / data["sd_s"].to_numpy(float))

    found = least_squares(misses, [60.0, 30.0], bounds=([5.0, 3.0], [300.0, 300.0]), x_scale=[20.0, 10.0], diff_step=1e-3).x
    return float(found[0]), float(found[1])


@cache
def compare() -> list[Comparison]:
    E, tau = fitted()
    rows = []
    data = table()[table()["T_store_C"] == FORETOLD]
    own = setting(E, tau, FORETOLD, data["t_eq_min"].to_numpy(float))
    for (_, row), ours in zip(data.iterrows(), own, strict=True):
        tolerance = max(2.0 * row["sd_s"], 0.04 * row["setting_time_s"])
        rows.append(
            Comparison(SOURCE, f"setting time, stored at 28 °C, {row['t_eq_min']:.0f} min in the room, foretold", row["setting_time_s"],
                float(ours), "s", tolerance, "measured", subject="gel and pot life", band=normal_band(float(ours), tolerance / 2),
                note=f"fitted to the parts stored at 24 °C: {E:.0f} kJ/mol, {tau:.0f} min")
        )  # fmt: skip
    slope = 100.0 * E * 1e3 / (R * (273.15 + 18.92) ** 2)
    rows.append(
        Comparison("683 operations", "fall of the setting time with the temperature of the room, by the fitted energy", 5.4, slope, "%/K", 0.9,
            "another material", ">=", subject="gel and pot life")
    )  # fmt: skip
    return rows


def figure(fig: Any) -> None:
    E, tau = fitted()
    ax = fig.subplots()
    fine = np.linspace(10.0, 65.0, 40)
    for i, stored in enumerate((FITTED, FORETOLD)):
        data = table()[table()["T_store_C"] == stored]
        ax.errorbar(data["t_eq_min"], data["setting_time_s"], 2 * data["sd_s"], fmt=f"C{i}o", ms=4, capsize=2)
        kind = "fitted" if stored == FITTED else "foretold"
        ax.plot(fine, setting(E, tau, stored, fine), f"C{i}", label=f"stored at {stored:.0f} °C, {kind}")
    ax.set(xlabel="time in the room before mixing [min]", ylabel="setting time [s]; bars: 2 sd")
    ax.legend(fontsize=8, frameon=False)
