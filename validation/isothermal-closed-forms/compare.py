from __future__ import annotations

from functools import cache
from math import exp, log
from typing import Any

import numpy as np
from scipy.optimize import brentq

import libcure
from libcure.validation import Comparison, resin_variant

T = 300.0  # [K]; every k below holds at this temperature
BASE = "polyurethane-winkler-2009"  # a model without diffusion control


def quantity(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit, "basis": "assumption", "source": "none", "where": "check"}


def k(value: float) -> dict[str, Any]:
    return {"k_ref": quantity(value, "1/s"), "E": quantity(60, "kJ/mol"), "T_ref": quantity(T, "K")}


def one(value: float) -> dict[str, Any]:
    return quantity(value, "1")


def alpha(rate: dict[str, Any], t: float, a0: float = 0.0, **more: Any) -> float:
    resin = resin_variant(BASE, {"rate": rate, **more})
    return float(resin.isothermal([T], [t], a0)[0, 0])


def inhibitor_left(k_z: float, eps: float, t: float) -> float:
    return brentq(lambda z: z + eps * log(z) - 1 + k_z * t, 1e-300, 1.0, xtol=1e-300, rtol=1e-15)


def horie_time(a: float, k0: float, kh: float, h0: float) -> float:
    b = k0 + kh * (h0 + 1)
    return (1 / (1 - a) - 1) / b + kh / b**2 * log((k0 + kh * (h0 + a)) / ((k0 + kh * h0) * (1 - a)))


@cache
def compare() -> list[Comparison]:
    rows = []

    def row(name: str, exact: float, computed: float) -> None:
        rows.append(Comparison("closed form", name, exact, computed, "1", 1e-7, "closed form"))

    for t in (200.0, 1000.0, 3000.0):
        row(
            f"first order, k t = {1e-3 * t:g}",
            1 - exp(-1e-3 * t),
            alpha({"law": "nth-order", "k": k(1e-3), "n": one(1)}, t),
        )
        row(
            f"second order, k t = {1e-3 * t:g}",
            1e-3 * t / (1 + 1e-3 * t),
            alpha({"law": "nth-order", "k": k(1e-3), "n": one(2)}, t),
        )
    for t in (2000.0, 5000.0):
        row(
            f"autocatalytic m = n = 1 from 0.01, k t = {1e-3 * t:g}",
            0.01 / (0.01 + 0.99 * exp(-1e-3 * t)),
            alpha({"law": "autocatalytic", "k": k(1e-3), "m": one(1), "n": one(1)}, t, 0.01),
        )
        K = exp(1.02e-3 * t)
        row(
            f"Kamal-Sourour m = n = 1, k2 t = {1e-3 * t:g}",
            (K - 1) / (K + 50),
            alpha({"law": "kamal-sourour", "k1": k(2e-5), "k2": k(1e-3), "m": one(1), "n": one(1)}, t),
        )
    for c in (0.0, 40.0):
        t = 1.5e3 / (1 + c) ** 0.5
        K = exp((1 + c) * 1e-3 * t)
        row(
            f"first order, autocatalysed, k_cat = {c:g}, k t = {1e-3 * t:.3g}",
            (K - 1) / (K + c),
            alpha({"law": "autocatalysed-nth-order", "k": k(1e-3), "n": one(1), "k_cat": one(c)}, t),
        )
        for a in (0.1, 0.9):
            row(
                f"second order, autocatalysed, k_cat = {c:g}, time of alpha = {a}",
                a,
                alpha(
                    {"law": "autocatalysed-nth-order", "k": k(1e-3), "n": one(2), "k_cat": one(c)},
                    horie_time(a, 1e-3, c * 1e-3, 0.0),
                ),
            )
    for t in (900.0, 1100.0):
        z = inhibitor_left(1e-3, 0.02, t)
        row(
            f"inhibitor, k_z t = {1e-3 * t:g}",
            1e-3 * z ** (-2.0 * 0.02),
            alpha(
                {"law": "autocatalytic", "k": k(2e-3), "m": one(1), "n": one(0)},
                t,
                1e-3,
                inhibitor={"k_z": k(1e-3), "epsilon": one(0.02)},
            ),
        )
    for a in (0.1, 0.5, 0.9):
        row(
            f"epoxy-amine, time of alpha = {a}",
            a,
            alpha(
                {
                    "law": "epoxy-amine",
                    "k_0": k(1e-5),
                    "k_h": k(1e-3),
                    "reactivity": one(1),
                    "hydrogens": one(1),
                    "hydroxyl": one(0.05),
                },
                horie_time(a, 1e-5, 1e-3, 0.05),
            ),
        )
    branch = [{"share": one(s), "law": "nth-order", "k": k(c), "n": one(1)} for s, c in ((0.3, 5e-3), (0.7, 2e-4))]
    for t in (300.0, 3000.0):
        row(
            f"two parallel first-order reactions, {t:g} s",
            0.3 * (1 - exp(-5e-3 * t)) + 0.7 * (1 - exp(-2e-4 * t)),
            alpha({"law": "parallel", "branches": branch}, t),
        )
    blend, medium, slow = (libcure.load_resin(f"epoxy-amine-{name}") for name in ("blend-60-40", "medium", "slow"))
    for alpha_now in (0.0, 0.4, 0.85):
        parts = [float(r.rate([293.15], [alpha_now])[0]) for r in (medium, slow)]
        rows.append(
            Comparison(
                "mixing rule",
                f"blend of 0.6 and 0.4 at alpha = {alpha_now}: rate over that of its parts",
                1.0,
                float(blend.rate([293.15], [alpha_now])[0]) / (0.6 * parts[0] + 0.4 * parts[1]),
                "1",
                1e-7,
                "closed form",
            )
        )
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    rows = compare()
    left.plot([r.published for r in rows], [r.computed for r in rows], "o", mfc="none")
    left.plot([0, 1], [0, 1], lw=0.8, color="0.5")
    left.set(xlabel="closed form", ylabel="computed", title="degree of cure")
    right.semilogy(np.maximum([abs(r.difference) for r in rows], 1e-16), "o", mfc="none")
    right.axhline(1e-7, color="0.5", ls="--", lw=0.8)
    right.set(xlabel="row", ylabel="difference", title="tolerance dashed")
