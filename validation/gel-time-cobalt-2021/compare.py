from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import libcure
from libcure import zero_d
from libcure.validation import Comparison, resin_variant

SOURCE = "Matuskova et al. 2021"
NAME, ANCHOR, T = "unsaturated-polyester-cold", 0.003, 293.15


@cache
def table() -> pd.DataFrame:
    return pd.read_csv(Path(__file__).with_name("data.csv"))


@cache
def gel_time(cobalt: float) -> float:
    """Of a film [s]: radicals in proportion to cobalt, rate by their root."""
    document = json.loads((libcure.models_folder() / "resins" / f"{NAME}.json").read_text(encoding="utf-8"))
    share = cobalt / ANCHOR
    document["inhibitor"]["k_z"]["k_ref"]["value"] *= share
    document["rate"]["k"]["k_ref"]["value"] *= np.sqrt(share)
    resin = resin_variant(NAME, {key: document[key] for key in ("inhibitor", "rate")})
    times = np.geomspace(10.0, 1e5, 8000)
    return float(np.interp(resin.alpha_gel, zero_d.isothermal(resin, [T], np.append(0.0, times))[0][1:], times))


@cache
def compare() -> list[Comparison]:
    x, t = (table()[key].to_numpy(float) for key in ("cobalt_wt_pct", "gel_time_min"))
    own = np.array([gel_time(c) for c in x])
    step = np.diff(np.log(x))
    pairs = zip(x[:-1], x[1:], np.diff(np.log(t)) / step, np.diff(np.log(own)) / step, strict=True)
    return [
        Comparison(SOURCE, f"slope of ln(gel time) over ln(cobalt), {a:g} to {b:g} %, {NAME}", float(seen), float(said), "1", 0.15,
            "another material", subject="gel and pot life")
        for a, b, seen, said in pairs
    ]  # fmt: skip


def figure(fig: Any) -> None:
    ax = fig.subplots()
    data = table()
    ax.errorbar(data["cobalt_wt_pct"], data["gel_time_min"], data["error_min"], fmt="ko", ms=4, capsize=2, label="measured, another resin")
    fine = np.geomspace(1e-3, 0.1, 15)
    ax.loglog(fine, [gel_time(c) / 60 for c in fine], label="demo polyester, quiet time by cobalt, rate by its root")
    ax.set(xlabel="cobalt [% by weight]", ylabel="gel time [min]")
    ax.legend(fontsize=8, frameon=False)
