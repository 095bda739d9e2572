"""The physics of a case written a second time, in NumPy, straight from the documents.

Nothing here comes from the library but the positions of the cell faces, so that both solve the
same discrete equations and differ only by their code and their integrators.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

MODELS = Path(__file__).parents[2] / "models"
R = 8.31446261815324
TO_SI = {
    "kcal/mol": 4184.0, "kJ/mol": 1e3, "J/mol": 1.0, "1/s": 1.0, "1/min": 1 / 60, "1": 1.0,
    "kJ/kg": 1e3, "J/kg": 1.0, "J/g": 1e3, "kg/m3": 1.0, "g/cm3": 1e3, "J/(kg K)": 1.0,
    "J/(g K)": 1e3, "kJ/(kg K)": 1e3, "W/(m K)": 1.0, "K": 1.0, "1/K": 1.0,
}  # fmt: skip


def si(quantity: dict[str, Any]) -> float:
    """Value of a model-file quantity in SI."""
    if quantity["unit"] == "degC":
        return float(quantity["value"]) + 273.15
    return float(quantity["value"]) * TO_SI[quantity["unit"]]


def model(folder: str, name: str) -> dict[str, Any]:
    """A model file as it stands on disk."""
    return json.loads((MODELS / folder / f"{name}.json").read_text())


def arrhenius(k: dict[str, Any], T: Any) -> Any:
    """Rate constant at T [K]."""
    E = si(k["E"])
    if "k_ref" in k:
        return si(k["k_ref"]) * np.exp(-E / R * (1 / T - 1 / si(k["T_ref"])))
    return si(k["A"]) * np.exp(-E / (R * T))


def cure_rate(resin: dict[str, Any], T: Any, alpha: Any) -> Any:
    """d(alpha)/dt of a Kamal-Sourour resin with Chern-Poehlein diffusion control [1/s]."""
    law, d = resin["rate"], resin["diffusion"]
    assert law["law"] == "kamal-sourour" and d["form"] == "chern-poehlein"
    chemical = arrhenius(law["k1"], T) + arrhenius(law["k2"], T) * np.abs(alpha) ** si(law["m"])
    critical = si(d["alpha_c0"]) + si(d["alpha_cT"]) * T
    slow = 1 + np.exp(si(d["C"]) * (alpha - critical))
    return chemical * np.clip(1 - alpha, 0, None) ** si(law["n"]) / slow


@dataclass
class Layer:
    """Properties of a layer."""

    k: float
    rho_c: float
    contact: float


def laminate(resin: dict[str, Any], fibre: dict[str, Any], v: float) -> Layer:
    """Resin and fibre at fibre volume fraction v; conductivity by Springer & Tsai (1967)."""
    km, kf = si(resin["conductivity"]), si(fibre["conductivity"])
    B = 2 * (km / kf - 1)
    root = np.sqrt(1 - B**2 * v / np.pi)
    bracket = np.pi - 4 / root * np.arctan(root / (1 + B * np.sqrt(v / np.pi)))
    rho_c = (1 - v) * si(resin["density"]) * si(resin["specific_heat"])
    rho_c += v * si(fibre["density"]) * si(fibre["specific_heat"])
    return Layer(km * (1 - 2 * np.sqrt(v / np.pi) + bracket / B), rho_c, 0.0)


def solid(document: dict[str, Any], contact: float = 0.0) -> Layer:
    """Layer of a material or ground file."""
    return Layer(
        si(document["conductivity"]),
        si(document["density"]) * si(document["specific_heat"]),
        contact,
    )


class Wall:
    """Heat and cure on given cell faces; one metre of pipe."""

    def __init__(
        self, face: Any, names: list[str], layers: dict[str, Layer], resin: Any, heat: float
    ) -> None:
        self.resin, self.n = resin, len(names)
        middle = (face[1:] + face[:-1]) / 2
        k = np.array([layers[name].k for name in names])
        volume = np.pi * (face[1:] ** 2 - face[:-1] ** 2)
        self.C = np.array([layers[name].rho_c for name in names]) * volume
        outer_half = np.log(face[1:] / middle) / (2 * np.pi * k)
        inner_half = np.log(middle / face[:-1]) / (2 * np.pi * k)
        contact = np.array(
            [layers[a].contact if a != b else 0.0 for a, b in zip(names, names[1:], strict=False)]
        )
        resistance = outer_half[:-1] + contact / (2 * np.pi * face[1:-1]) + inner_half[1:]
        self.G = 1 / resistance
        self.inner_half, self.outer_half = inner_half[0], outer_half[-1]
        self.area_in, self.area_out = 2 * np.pi * face[0], 2 * np.pi * face[-1]
        self.liner = np.array([name == "liner" for name in names])
        self.S = heat * volume[self.liner]

    def slope(self, inner: Any, outer: Any) -> Any:
        """Right-hand side; inner and outer are (h or inf, T, absorbed flux) or None."""

        def surface(load: Any, area: float, half: float, T: float) -> float:
            if load is None:
                return 0.0
            h, ambient, flux = load
            film = 0.0 if np.isinf(h) else 1 / (h * area)
            sol_air = ambient if np.isinf(h) else ambient + flux / h
            return (sol_air - T) / (film + half)

        def f(_t: float, y: Any) -> Any:
            T, alpha = y[: self.n], y[self.n :]
            rate = cure_rate(self.resin, T[self.liner], alpha)
            flow = self.G * np.diff(T)
            heat = np.zeros(self.n)
            heat[:-1] += flow
            heat[1:] -= flow
            heat[0] += surface(inner, self.area_in, self.inner_half, T[0])
            heat[-1] += surface(outer, self.area_out, self.outer_half, T[-1])
            heat[self.liner] += self.S * rate
            return np.concatenate([heat / self.C, rate])

        return f


def integrate(f: Any, y0: Any, times: Any, method: str = "BDF") -> Any:
    """States at times [s], rtol 1e-9."""
    solution = solve_ivp(f, (0, times[-1]), y0, method, times, rtol=1e-9, atol=1e-9)
    assert solution.success, solution.message
    return solution.y.T
