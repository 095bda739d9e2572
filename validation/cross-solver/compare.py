from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

import libcure
from libcure.validation import Comparison, load_script

other = load_script(Path(__file__).parents[1] / "independent_wall.py")
wall_case = load_script(Path(__file__).parents[1] / "wall_case.py")
case = wall_case.load(Path(__file__).with_name("case.json"))
cvode = load_script(Path(__file__).parents[1] / "cvode.py")
TIMES = np.concatenate([[0.0], np.geomspace(5.0, 6 * 3600.0, 180)])
TOLERANCES = ((5e-2, 1e-5), (5e-3, 1e-6), (5e-4, 1e-7))


@cache
def constants() -> dict[str, float]:
    document = json.loads((libcure.models_folder() / "resins" / f"{case.resin}.json").read_text())
    rate, diffusion = document["rate"], document["diffusion"]
    assert rate["k1"]["E"]["unit"] == "kcal/mol" and rate["k1"]["T_ref"]["value"] == 20
    return {
        "k1": rate["k1"]["k_ref"]["value"], "k2": rate["k2"]["k_ref"]["value"], "E1": 4184.0 * rate["k1"]["E"]["value"],
        "E2": 4184.0 * rate["k2"]["E"]["value"], "m": rate["m"]["value"], "n": rate["n"]["value"],
        "C": diffusion["C"]["value"],
        "a0": diffusion["alpha_c0"]["value"], "aT": diffusion["alpha_cT"]["value"],
    }  # fmt: skip


def rate(T: np.ndarray, alpha: np.ndarray) -> np.ndarray:
    c = constants()
    k1, k2 = (k * np.exp(-E / other.R * (1 / T - 1 / 293.15)) for k, E in ((c["k1"], c["E1"]), (c["k2"], c["E2"])))
    slow = 1 + np.exp(np.minimum(c["C"] * (alpha - c["a0"] - c["aT"] * T), 500.0))
    return (k1 + k2 * other.power(alpha, c["m"])) * other.power(1 - alpha, c["n"]) / slow


@cache
def ours(tolerance: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    return case.ours(TIMES, tolerance)


@cache
def theirs() -> tuple[np.ndarray, np.ndarray]:
    return case.theirs(TIMES, rate, rtol=1e-11)


@cache
def in_c() -> tuple[np.ndarray, np.ndarray] | None:
    """By CVODE, from the independently assembled coefficients; None without it."""
    if cvode.program()[0] is None:
        return None
    wall = other.assemble(case.geometry, case.inner_radius, case.layers, case.curing, case.heat)
    c = constants()
    n, first = len(wall.C), int(np.flatnonzero(wall.cure)[0])
    (h, warm), (_, cold) = (wall_case.follow(side)(0.0) for side in (case.inner, case.outer))
    inside, outside = wall.load(0, h), wall.load(1, np.inf)
    answer = cvode.solve(
        {
            "layout": (n, first, wall.cure.sum()), "capacity": wall.C, "conductance": wall.G, "source": wall.heat,
            "inner": (inside, inside * warm), "outer": (outside, outside * cold),
            "k1": (c["k1"], c["E1"] / other.R, 1 / 293.15), "k2": (c["k2"], c["E2"] / other.R, 1 / 293.15),
            "orders": (c["m"], c["n"]), "diffusion": (c["C"], c["a0"], c["aT"]),
            "start": np.concatenate([case.start, np.full(wall.cure.sum(), case.alpha0)]), "times": TIMES[1:],
            "release": (1.0, 0.0, 0.0, 1.0, 1.0),
        },
        1e-12, 1e-9, 1e-12,
    )  # fmt: skip
    return answer[:, :n], answer[:, n:]


def remarks() -> list[str]:
    return [] if in_c() else [f"CVODE was not compared: {cvode.program()[1]}. SciPy is shown alone."]


@cache
def compare() -> list[Comparison]:
    T2, alpha2 = theirs()
    codes = {"SciPy BDF": (T2[1:], alpha2[1:])}
    if (found := in_c()) is not None:
        codes["SUNDIALS CVODE"] = found
    rows = []
    for code, (T2, alpha2) in codes.items():
        for tolerance in TOLERANCES:
            T, alpha = ours(tolerance)
            name = f"{code}, step tolerance {tolerance[0]:g} K, {tolerance[1]:g}"
            rows += [
                Comparison(code, f"{name}: largest temperature difference", 0.0, float(np.abs(T[1:] - T2).max()), "K",
                    4 * tolerance[0], "two codes"),
                Comparison(code, f"{name}: largest difference in degree of cure", 0.0, float(np.abs(alpha[1:] - alpha2).max()),
                    "1", 200 * tolerance[1], "two codes"),
            ]  # fmt: skip
    if found is not None:
        scipy = codes["SciPy BDF"]
        both = "CVODE and SciPy"
        rows += [
            Comparison(both, "CVODE less SciPy: largest temperature difference", 0.0,
                float(np.abs(found[0] - scipy[0]).max()), "K", 1e-5, "two codes"),
            Comparison(both, "CVODE less SciPy: largest difference in degree of cure", 0.0,
                float(np.abs(found[1] - scipy[1]).max()), "1", 1e-8, "two codes"),
        ]  # fmt: skip
    return rows


def figure(fig: Any) -> None:
    left, right = fig.subplots(1, 2)
    T2, _alpha2 = theirs()
    T, _alpha = ours(TOLERANCES[1])
    for i, (cell, name) in enumerate(((6, "innermost"), (29, "outermost"))):
        left.semilogx(TIMES[1:] / 60, T[1:, cell] - 273.15, color=f"C{i}", label=f"{name} liner cell")
        left.semilogx(TIMES[1::8] / 60, T2[1::8, cell] - 273.15, "o", color=f"C{i}", ms=3, mfc="none")
    left.set(xlabel="time [min]", ylabel="temperature [°C]; circles: SciPy")
    left.legend(fontsize=7, frameon=False)
    for i, tolerance in enumerate(TOLERANCES):
        error = np.abs(ours(tolerance)[0] - T2).max(axis=1)
        name = f"{tolerance[0]:g} K, {tolerance[1]:g}"
        right.loglog(TIMES[1:] / 60, np.maximum(error[1:], 1e-9), color=f"C{i}", label=f"{name}, to SciPy")
        if (found := in_c()) is not None:
            error = np.abs(ours(tolerance)[0][1:] - found[0]).max(axis=1)
            right.loglog(TIMES[1::6] / 60, np.maximum(error[::6], 1e-9), ".", color=f"C{i}", label=f"{name}, to CVODE")
    right.set(xlabel="time [min]", ylabel="largest temperature difference [K]")
    right.legend(fontsize=7, frameon=False)
