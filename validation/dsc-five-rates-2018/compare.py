from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.integrate import cumulative_simpson
from scipy.optimize import least_squares

from libcure import Resin, zero_d
from libcure.fitting import ModelFree, Programme, Run, analyse_without_law
from libcure.validation import Comparison, resin_variant

R = 8.31446261815324
SOURCE = "Lawrie 2018"
FITTED, HELD_OUT = (1, 2, 7), {5: 2.5, 30: 7.0}
SHARES = np.linspace(0.05, 0.95, 19)
T_REF = 400.0


@cache
def run(rate: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Times [s], temperatures [K], degree of cure and heat flow [mW/mg] of a measured run."""
    data = pd.read_csv(Path(__file__).with_name("data.csv"))
    data = data[data["rate_K_min"] == rate]
    t, T = data["time_s"].to_numpy(float), data["temperature_C"].to_numpy() + 273.15
    flow = (data["heat_flow_mW"] / data["sample_mass_mg"]).to_numpy()
    heat = cumulative_simpson(flow, x=t, initial=0)
    return t, T, heat / heat[-1], flow


def resin(constants: np.ndarray) -> Resin:
    """constants: ln k at 400 K [1/s], E [kJ/mol], m, n, ln of the initial degree of cure."""
    ln_k, E, m, n, ln_alpha0 = constants
    quantity = {"basis": "estimated", "source": "none", "where": "fit", "note": "fitted to three measured runs"}
    return resin_variant(
        "graphite-epoxy-lee-loos-springer-1982",
        {
            "rate": {
                "law": "autocatalytic",
                "k": {
                    "k_ref": {"value": float(np.exp(ln_k)), "unit": "1/s", **quantity},
                    "E": {"value": float(E), "unit": "kJ/mol", **quantity},
                    "T_ref": {"value": T_REF, "unit": "K", **quantity},
                },
                "m": {"value": float(m), "unit": "1", **quantity},
                "n": {"value": float(n), "unit": "1", **quantity},
            },
            "initial_degree_of_cure": {"value": float(np.exp(ln_alpha0)), "unit": "1", **quantity},
            "diffusion": {"form": "none"},
            "reference_outcomes": [],
        },
    )


def marks(T: np.ndarray, alpha: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """Temperatures at which these shares of the heat are out [K]."""
    return np.interp(shares, alpha, T)


def predicted(law: Resin, rate: int, shares: np.ndarray) -> np.ndarray:
    t, T, *_ = run(rate)
    fine = np.linspace(t[0], t[-1], 1500)
    alpha = zero_d.along(law, t - t[0], T, fine - t[0])[0]
    return marks(np.interp(fine, t, T), alpha, shares)


@cache
def fitted() -> Resin:
    """Of the three runs that the fit sees."""

    def misses(constants: np.ndarray) -> np.ndarray:
        law = resin(constants)
        return np.concatenate([predicted(law, r, SHARES) - marks(*run(r)[1:3], SHARES) for r in FITTED])

    start = np.array([np.log(3e-3), 60.0, 0.4, 1.5, np.log(1e-3)])
    low, high = [-15.0, 30.0, 0.05, 0.5, -16.0], [0.0, 120.0, 1.5, 4.0, -3.0]
    scale = np.array([1.0, 10.0, 0.3, 1.0, 3.0])
    return resin(least_squares(misses, start, bounds=(low, high), x_scale=scale, diff_step=1e-4).x)


def kissinger(rates: np.ndarray, peaks: np.ndarray) -> tuple[float, float]:
    """Activation energy and its standard error [kJ/mol]."""
    line, covariance = np.polyfit(1 / peaks, np.log(rates / peaks**2), 1, cov=True)
    return float(-line[0] * R / 1e3), float(np.sqrt(covariance[0, 0]) * R / 1e3)


@cache
def peaks() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rates [K/s] and peak temperatures measured and of the fitted law [K]."""
    rates = np.array([1.0, 2.0, 5.0, 7.0, 30.0])
    measured = np.array([run(int(r))[1][run(int(r))[3].argmax()] for r in rates])
    T, _, speed = zero_d.ramp(fitted(), rates / 60, 320.0, 560.0, 4801)
    return rates / 60, measured, T[speed.argmax(axis=1)]


@cache
def without_law() -> ModelFree:
    """What the runs at 1, 2 and 7 K/min say without a law; their baselines are taken off already."""
    runs = []
    for rate in FITTED:
        t, T, alpha, flow = run(rate)
        heat = float(cumulative_simpson(flow, x=t)[-1]) * 1e3
        none = np.zeros((len(t), 4))
        runs.append(Run(f"{rate} K/min", t, T, flow * 1e3, rate / 60.0, "none", (t[0], t[0], t[-1], t[-1]), slice(0, len(t)), heat, None, flow * 1e3 / heat,
                        alpha, none, none.T, 0.0, 0.1))  # fmt: skip
    found = analyse_without_law(runs)
    assert found is not None
    return found


def foretold(rate: int, shares: np.ndarray) -> np.ndarray:
    """Temperatures at which these shares of the heat are out, without a law [K]."""
    t, T, *_ = run(rate)
    told = without_law().forecast(Programme(f"{rate} K/min", t - t[0], T))
    return np.interp(np.interp(shares, told.alpha, told.time), t - t[0], T)


@cache
def compare() -> list[Comparison]:
    rows = []
    shares = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
    for rate, tolerance in HELD_OUT.items():
        pairs = zip(shares, marks(*run(rate)[1:3], shares), predicted(fitted(), rate, shares), strict=True)
        rows += [
            Comparison(SOURCE, f"{rate} K/min, not fitted: {100 * share:.0f} % of the heat out at", float(seen) - 273.15,
                float(said) - 273.15, "°C", tolerance, "measured")
            for share, seen, said in pairs
        ]  # fmt: skip
    rows += [
        Comparison(SOURCE, f"5 K/min, forecast without a law: {100 * share:.0f} % of the heat out at", float(seen) - 273.15,
            float(said) - 273.15, "°C", HELD_OUT[5], "measured")
        for share, seen, said in zip(shares, marks(*run(5)[1:3], shares), foretold(5, shares), strict=True)
    ]  # fmt: skip
    rates, measured, ours = peaks()
    E, error = kissinger(rates, measured)
    rows.append(
        Comparison(SOURCE, "activation energy from five peaks", E, kissinger(rates, ours)[0], "kJ/mol", 2 * error, "measured")
    )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    for i, rate in enumerate((*FITTED, *HELD_OUT)):
        t, T, alpha, _ = run(rate)
        name = f"{rate} K/min{', predicted' if rate in HELD_OUT else ', fitted'}"
        left.plot(T - 273.15, alpha, "o", color=f"C{i}", ms=3, mfc="none")
        said = zero_d.along(fitted(), t - t[0], T, t - t[0])[0]
        left.plot(T - 273.15, said, color=f"C{i}", lw=1.2, label=name)
    left.set(xlabel="temperature [°C]", ylabel="degree of cure; circles: measured")
    left.legend(fontsize=6, frameon=False)
    rates, measured, ours = peaks()
    right.plot(1e3 / measured, np.log(rates / measured**2), "ko", ms=4, mfc="none", label="measured")
    right.plot(1e3 / ours, np.log(rates / ours**2), "C0-", lw=1.2, label="fitted law")
    right.set(xlabel="1000 / peak temperature [1/K]", ylabel="ln(rate / peak²), K/s and K")
    right.legend(fontsize=7, frameon=False)
