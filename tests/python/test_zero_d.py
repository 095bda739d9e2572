"""0-D cure: every rate law against SciPy on formulas written again here, to 1e-7 in alpha."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import libcure
from libcure import _core, zero_d

R = 8.31446261815324
MODELS = Path(__file__).parents[2] / "models" / "resins"


def q(value: float, unit: str = "1") -> dict[str, Any]:
    return {"value": value, "unit": unit, "basis": "assumption", "source": "none", "note": "for a test"}


def k(at_300: float, E: float) -> dict[str, Any]:
    return {"k_ref": q(at_300, "1/s"), "E": q(E, "kJ/mol"), "T_ref": q(300, "K")}


def arrhenius(at_300: float, E: float, T: float) -> float:
    return float(at_300 * np.exp(-E * 1e3 / R * (1 / T - 1 / 300)))


Tg = {"Tg0": q(240, "K"), "Tg_inf": q(360, "K"), "lambda": q(0.4)}
DIFFUSION: dict[str, Any] = {
    "none": {"form": "none"},
    "chern-poehlein": {"form": "chern-poehlein", "C": q(30), "alpha_c0": q(-0.8), "alpha_cT": q(0.0053, "1/K")},
    "rabinowitch": {"form": "rabinowitch", "k_d0": q(2e-3, "1/s"), "C1": q(40.2), "C2": q(51.6, "K")},
}


def slowed(form: str, T: float, alpha: float) -> Callable[[float], float]:
    """What diffusion leaves of a rate constant."""
    if form == "chern-poehlein":
        return lambda c: c / (1 + np.exp(30 * (alpha - (-0.8 + 0.0053 * T))))
    if form == "rabinowitch":
        glass = 240 + 120 * 0.4 * alpha / (1 - 0.6 * alpha)
        kd = 2e-3 * np.exp(40.2 * (T - glass) / (51.6 + abs(T - glass)))
        return lambda c: 1 / (1 / c + 1 / kd)
    return lambda c: c


LAWS: dict[str, tuple[dict[str, Any], float, Callable[[float, float, Callable[[float], float]], float]]] = {
    "nth-order": (
        {"law": "nth-order", "k": k(4e-4, 60), "n": q(1.7)},
        0.0,
        lambda T, a, d: d(arrhenius(4e-4, 60, T)) * (1 - a) ** 1.7,
    ),
    "autocatalytic": (
        {"law": "autocatalytic", "k": k(2e-3, 52), "m": q(0.6), "n": q(1.4)},
        0.01,
        lambda T, a, d: d(arrhenius(2e-3, 52, T)) * a**0.6 * (1 - a) ** 1.4,
    ),
    "kamal-sourour": (
        {"law": "kamal-sourour", "k1": k(5e-5, 70), "k2": k(9e-4, 55), "m": q(0.9), "n": q(1.6)},
        0.001,
        lambda T, a, d: (d(arrhenius(5e-5, 70, T)) + d(arrhenius(9e-4, 55, T)) * a**0.9) * (1 - a) ** 1.6,
    ),
    "two-branch": (
        {"law": "two-branch", "k1": k(6e-4, 70), "k2": k(-2e-4, 60), "k3": k(3e-4, 55), "B": q(0.47),
         "alpha_switch": q(1.0)},
        0.0,
        lambda T, a, d: (d(arrhenius(6e-4, 70, T)) + d_negative(d, -arrhenius(2e-4, 60, T)) * a) * (1 - a) * (0.47 - a),
    ),
    "autocatalysed-nth-order": (
        {"law": "autocatalysed-nth-order", "k": k(4e-5, 60), "n": q(1.7), "k_cat": q(30)},
        0.0,
        lambda T, a, d: d(arrhenius(4e-5, 60, T)) * (1 - a) ** 1.7 * (1 + 30 * a),
    ),
}  # fmt: skip


def d_negative(d: Callable[[float], float], c: float) -> float:
    """A negative constant passes through unlimited forms only."""
    return d(c)


def resin_with(tmp_path: Path, **changes: Any) -> libcure.Resin:
    document = json.loads((MODELS / "epoxy-amine-medium.json").read_text())
    document.pop("covariance")  # of constants that the changed document may not have
    document.update(glass_transition=Tg, **copy.deepcopy(changes))
    path = tmp_path / "resin.json"
    path.write_text(json.dumps(document))
    return libcure.load_resin(path)


def test_every_law_has_its_formula_here() -> None:
    assert set(LAWS) | {"epoxy-amine", "parallel"} == set(_core.fit.bases)


@pytest.mark.parametrize("form", DIFFUSION)
@pytest.mark.parametrize("law", LAWS)
def test_every_law_agrees_with_scipy(tmp_path: Path, law: str, form: str) -> None:
    if law == "two-branch" and form == "rabinowitch":
        pytest.skip("a negative rate constant has no Rabinowitch form")
    rate, alpha0, formula = LAWS[law]
    resin = resin_with(tmp_path, rate=rate, diffusion=DIFFUSION[form])
    temperatures, times = np.array([280.0, 298.0, 315.0]), np.linspace(300, 20000, 25)
    ours = zero_d.isothermal(resin, temperatures, times, alpha0)
    for T, row in zip(temperatures, ours, strict=True):
        other = solve_ivp(lambda _t, a, T=T: [formula(T, a[0], slowed(form, T, a[0]))], (0, times[-1]), [alpha0],
                          "DOP853", times, rtol=1e-10, atol=1e-12)  # fmt: skip
        assert np.abs(row - other.y[0]).max() < 1e-7


def test_histories_ramps_and_masses_agree_with_scipy(tmp_path: Path) -> None:
    rate, _, formula = LAWS["kamal-sourour"]
    resin = resin_with(tmp_path, rate=rate, diffusion=DIFFUSION["chern-poehlein"])
    points, T_points = np.array([0.0, 1000.0, 4000.0, 6000.0]), np.array([285.0, 320.0, 300.0, 340.0])
    times = np.linspace(100, 6000, 40)

    def along(t: float, a: Any) -> list[float]:
        T = float(np.interp(t, points, T_points))
        return [formula(T, a[0], slowed("chern-poehlein", T, a[0]))]

    other = solve_ivp(along, (0, 6000), [0.001], "DOP853", times, rtol=1e-10, atol=1e-12, max_step=50)
    two = zero_d.along(resin, points, np.vstack([T_points, T_points + 5]), times, alpha0=0.001)
    assert np.abs(two[0] - other.y[0]).max() < 1e-7
    assert (two[1] > two[0]).all()

    temperature, alpha, slope = zero_d.ramp(resin, np.array([2.0, 10.0]) / 60, 280.0, 450.0, alpha0=0.001)
    assert alpha.shape == slope.shape == (2, temperature.size)
    assert np.allclose(slope, np.gradient(alpha, temperature, axis=1) * np.array([[2.0], [10.0]]) / 60,
                       atol=2e-3 * slope.max())  # fmt: skip
    # Faster heating peaks hotter: the shift that Kissinger's method reads (Anal. Chem. 29, 1702, 1957).
    assert temperature[slope[1].argmax()] > temperature[slope[0].argmax()] + 10

    c, H = resin.specific_heat, resin.heat_of_reaction
    t = np.linspace(50, 3000, 30)
    T, a = zero_d.adiabatic(resin, [290.0, 300.0], t, alpha0=0.001)
    assert np.abs(T - np.array([[290.0], [300.0]]) - H / c * (a - 0.001)).max() < 1e-4

    def mass(_t: float, y: Any) -> list[float]:
        r = formula(y[0], y[1], slowed("chern-poehlein", y[0], y[1]))
        return [(0.8 * H * r - 8 * 0.06 * (y[0] - 285)) / (0.8 * c), r]

    T, a = zero_d.lumped(resin, 293.0, t, mass=0.8, surface_area=0.06, h=8.0, ambient=285.0, alpha0=0.001)
    other = solve_ivp(mass, (0, 3000), [293.0, 0.001], "DOP853", t, rtol=1e-10, atol=1e-12)
    assert np.abs(T[0] - other.y[0]).max() < 1e-3
    assert np.abs(a[0] - other.y[1]).max() < 1e-6


@pytest.mark.parametrize("name", ["epoxy-amine-slow", "epoxy-amine-medium", "epoxy-amine-fast", "vinyl-ester-cold"])
def test_cold_resin_vitrifies_below_full_cure_and_goes_on_when_warmed(name: str) -> None:
    resin = libcure.load_resin(name)
    T = np.array([5.0, 10.0, 15.0, 20.0, 25.0]) + 273.15
    week = 7 * 86400.0
    final = zero_d.isothermal(resin, T, [0.5 * week, week])
    assert (final[:, 1] < 0.97).all()
    assert (np.diff(final[:, 1]) > 0.005).all()
    # Stopped, not merely slow: half a week more brings next to nothing.
    assert (final[:, 1] - final[:, 0] < 0.02).all()
    assert (resin.glass_transition(final[:, 1]) > T).all()
    warmed = zero_d.along(resin, [0.0, week, week + 3600, 2 * week], [278.15, 278.15, 323.15, 323.15], [week, 2 * week])
    assert warmed[0, 1] > warmed[0, 0] + 0.08
