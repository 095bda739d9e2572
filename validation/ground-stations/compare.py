from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import brentq

import libcure
from libcure.validation import Comparison, normal_band

STATIONS = ("Bedford", "Manhattan")
TOP, ASKED = 20, 100  # depths [cm]
FITTED, FORETOLD = range(2009, 2014), (2014, 2015)
MONTH, DELAY = 2.5, 3.0  # tolerances [K, days], from source.md
YEAR = 365.0
OMEGA = 2.0 * np.pi / YEAR


@cache
def months(station: str) -> pd.DataFrame:
    """Mean temperatures [°C] by depth [cm]; ``day`` is the middle of the month, from 1 January."""
    data = pd.read_csv(Path(__file__).with_name(f"{station.lower()}.csv"))
    data = data.rename(columns={f"soil_{depth:03d}cm_C": depth for depth in (5, 10, 20, 50, 100)})
    first = pd.to_datetime(data[["year", "month"]].assign(day=1))
    data["day"] = first.dt.day_of_year + 0.5 * first.dt.days_in_month
    return data


def wave(station: str, depth: int) -> tuple[float, float, float]:
    """Mean [K], amplitude [K] and coldest day of the yearly wave at a depth in the years that are fitted."""
    data = months(station)
    data = data[data["year"].isin(FITTED)].dropna(subset=[depth])
    day = data["day"].to_numpy(float)
    terms = np.column_stack([np.ones(day.size), np.cos(OMEGA * day), np.sin(OMEGA * day)])
    mean, a, b = np.linalg.lstsq(terms, data[depth].to_numpy(float), rcond=None)[0]
    # A month's mean flattens a wave by sin(x)/x, x half a month.
    flattened = float(np.sinc(1.0 / 12.0))
    return float(mean) + 273.15, float(np.hypot(a, b)) / flattened, float(np.arctan2(-b, -a) / OMEGA) % YEAR


def ground(station: str, depth: int, days: Any, diffusivity: float) -> np.ndarray:
    """The library's undisturbed ground with its surface at TOP [K]."""
    days = np.asarray(days, float)
    mean, amplitude, coldest = wave(station, TOP)
    same = [np.full(days.shape, x) for x in (mean, amplitude, coldest, diffusivity, (depth - TOP) / 100.0)]
    return np.asarray(libcure.heat.ground_temperature(*same, days))


@cache
def diffusivity(station: str) -> float:
    """That makes the library's wave as large at ASKED as the fitted one [m2/s]."""
    fine = np.arange(0.0, YEAR, 0.25)

    def excess(log_a: float) -> float:
        return float(np.ptp(ground(station, ASKED, fine, np.exp(log_a)))) / 2.0 - wave(station, ASKED)[1]

    return float(np.exp(brentq(excess, np.log(5e-8), np.log(5e-6))))


def foretold(station: str) -> pd.DataFrame:
    """Months that the fit has not seen: measured and the library's mean [°C]."""
    data = months(station)
    data = data[data["year"].isin(FORETOLD)].dropna(subset=[ASKED])
    within = np.linspace(-15.0, 15.0, 31)  # days of a month
    days = data["day"].to_numpy(float)[:, None] + within
    ours = ground(station, ASKED, days, diffusivity(station)).mean(axis=1) - 273.15
    return data[["year", "month", ASKED]].assign(ours=ours)


def compare() -> list[Comparison]:
    rows = []
    for station in STATIONS:
        source = f"climate station {station}"
        data = foretold(station)
        for _, row in data[data["month"].isin((1, 4, 7, 10))].iterrows():
            what = f"{station}, 1 m deep, {row['year']:.0f}-{row['month']:02.0f}, not fitted"
            rows.append(Comparison(source, what, row[ASKED], row["ours"], "°C", MONTH, "measured", subject="ground",
                band=normal_band(row["ours"], MONTH / 2)))
        worst = data.loc[(data[ASKED] - data["ours"]).abs().idxmax()]
        what = f"{station}, 1 m deep, worst of {len(data)} months of 2014 and 2015 ({worst['year']:.0f}-{worst['month']:02.0f})"
        rows.append(Comparison(source, what, worst[ASKED], worst["ours"], "°C", MONTH, "measured", subject="ground"))
        fine = np.arange(0.0, YEAR, 0.01)
        coldest = float(fine[ground(station, ASKED, fine, diffusivity(station)).argmin()])
        delay = wave(station, ASKED)[2] - wave(station, TOP)[2]
        ours = coldest - wave(station, TOP)[2]
        rows.append(Comparison(source, f"{station}, delay of the wave from 20 to 100 cm", delay, ours, "days", DELAY, "measured", subject="ground"))
    return rows


def figure(fig: Any) -> None:
    fine = np.arange(0.0, 2.0 * YEAR)
    for axes, station in zip(fig.subplots(1, 2, sharey=True), STATIONS, strict=True):
        data = months(station)
        data = data[data["year"].isin(FORETOLD)]
        when = data["day"] + YEAR * (data["year"] - FORETOLD[0])
        for i, (depth, kind) in enumerate(((TOP, "surface of the model"), (ASKED, "foretold"))):
            axes.plot(fine, ground(station, depth, fine, diffusivity(station)) - 273.15, color=f"C{i}", lw=1.2, label=f"{depth} cm, {kind}")
            axes.plot(when, data[depth], "o", color=f"C{i}", ms=4, mfc="none")
        axes.set(xlabel="days from 1 January 2014", title=f"{station}: {1e6 * diffusivity(station):.2f} mm²/s")
        axes.legend(fontsize=6, frameon=False)
    fig.axes[0].set_ylabel("temperature [°C]; circles: measured")
