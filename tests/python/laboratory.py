"""Invented laboratories for trials of ``libcure study``: resins of other laws than those that are fitted, measured with real faults.

Nothing here comes from libcure. An epoxy-amine follows the reactions of primary and secondary amine with hydroxyl catalysis (the form of K. Horie
et al., J. Polym. Sci. A-1 8, 1357, 1970; from memory), a polyester a radical cure with initiator, inhibitor and gel effect; both are slowed by a
logistic factor in Tg - T. Cups lose heat by a law of their own, thermometers are off, films are judged by eye. Draws are fixed by their seed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

R = 8.314462618
ZERO = 273.15
T20 = 293.15
PAST_GEL, MARGIN = 0.05, 11.0  # as libcure/include/cure/process/release_needs.hpp states them for loads of two hours
BATCH_SD = 0.11


@dataclass(frozen=True)
class Truth:
    """A resin as it really is."""

    family: str
    speed: float
    E: float
    E_start: float
    start: float
    ratio: float
    """Of secondary to primary amine, or strength of the gel effect."""
    induction: float
    """Inhibitor over what the initiator gives at first [-]."""
    alpha_gel: float
    Tg0: float
    Tg_inf: float
    shape: float
    arrest: float
    steep: float
    heat: float
    cp: float

    def Tg(self, alpha: Any) -> Any:
        """[°C]"""
        return self.Tg0 + (self.Tg_inf - self.Tg0) * self.shape * alpha / (1.0 - (1.0 - self.shape) * alpha)

    @property
    def fresh(self) -> np.ndarray:
        return np.array([0.0, 1.0, 0.0]) if self.family == "epoxy-amine" else np.array([0.0, 1.0, self.induction])

    def slopes(self, T: float, y: np.ndarray) -> np.ndarray:
        """Of conversion first [1/s]; T [K]."""
        alpha = min(max(y[0], 0.0), 1.0)
        mobile = 1.0 / (1.0 + np.exp(np.clip(self.steep * (self.Tg(alpha) + ZERO - T - self.arrest), -60.0, 60.0)))
        heat = np.exp(-1e3 * self.E / R * (1.0 / T - 1.0 / T20))
        if self.family == "epoxy-amine":
            start = self.start * np.exp(-1e3 * self.E_start / R * (1.0 / T - 1.0 / T20))
            k = self.speed * (start + heat * alpha) * (1.0 - alpha) * mobile
            return np.array([k * (y[1] + 0.5 * self.ratio * y[2]), -2.0 * k * y[1], k * (2.0 * y[1] - self.ratio * y[2])])
        free = 0.02 * np.exp(-1e3 * self.E_start / R * (1.0 / T - 1.0 / T20)) * self.speed * y[1]
        taken = y[2] / (y[2] + 0.01)
        grow = self.speed * heat * np.sqrt(max(y[1], 0.0)) * (1.0 - taken) * (1.0 - alpha) * (1.0 + self.ratio * alpha) * mobile
        return np.array([grow, -free, -free * taken * 20.0])

    def film(self, T_C: float, end_min: float) -> tuple[np.ndarray, np.ndarray]:
        """Times [min] and conversions of a film."""
        t = np.geomspace(0.05, end_min, 600)
        y = solve_ivp(lambda _, y: self.slopes(T_C + ZERO, y), (0.0, 60.0 * end_min), self.fresh, "LSODA", 60.0 * t, rtol=1e-7, atol=1e-9)
        return t, np.clip(y.y[0], 0.0, 1.0)

    def gel_min(self, T_C: float) -> float:
        t, alpha = self.film(T_C, 40000.0)
        return float(np.interp(self.alpha_gel, alpha, t)) if alpha[-1] > self.alpha_gel else np.inf

    def release_min(self, T_C: float) -> float:
        """When a film may be loaded, for good; infinite: never."""
        t, alpha = self.film(T_C, 150000.0)
        ready = (alpha >= self.alpha_gel + PAST_GEL) & (self.Tg(alpha) >= T_C + MARGIN)
        late = np.flatnonzero(~ready)
        first = late[-1] + 1 if late.size else 0
        return float(t[first]) if first < t.size else np.inf

    def cup(self, mass_kg: float, start_C: float, air_C: float, loss: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Times [min], temperatures [°C], conversions of a cup that loses heat faster the hotter it is."""

        def slope(_: float, y: np.ndarray) -> np.ndarray:
            rate = self.slopes(y[0], y[1:])
            over = y[0] - air_C - ZERO
            lost = loss * np.sign(over) * abs(over) ** 1.2 / 40.0**0.2
            cp = self.cp * (1.0 + 0.0012 * (y[0] - T20) - 0.1 * y[1])
            return np.concatenate([[(mass_kg * self.heat * rate[0] - lost) / (mass_kg * cp)], rate])

        t = np.concatenate([[0.0], np.geomspace(0.2, 3000.0, 1500)])
        y = solve_ivp(slope, (0.0, 180000.0), np.concatenate([[start_C + ZERO], self.fresh]), "LSODA", 60.0 * t, rtol=1e-7, atol=1e-9)
        return t, y.y[0] - ZERO, np.clip(y.y[1], 0.0, 1.0)

    def peak_C(self, rate_K_min: float) -> float:
        """Of the heat flow at a heating rate."""
        T = np.linspace(-20.0, 260.0, 900)
        seconds = (T + 20.0) / rate_K_min * 60.0
        y = solve_ivp(lambda t, y: self.slopes(-20.0 + ZERO + rate_K_min * t / 60.0, y), (0.0, seconds[-1]), self.fresh, "LSODA", seconds, rtol=1e-7, atol=1e-9)
        return float(T[int(np.gradient(y.y[0], T).argmax())])


def drawn(seed: int) -> Truth:
    """A resin that a crew may buy: two of three are epoxies."""
    g = np.random.default_rng(seed)
    epoxy = seed % 3 != 0
    Tg = {"Tg0": g.normal(-33.0, 7.0), "Tg_inf": g.normal(93.0, 15.0), "shape": np.clip(g.normal(0.42, 0.06), 0.25, 0.6)}
    if not epoxy:
        Tg = {"Tg0": g.normal(-60.0, 9.0), "Tg_inf": g.normal(97.0, 12.0), "shape": np.clip(g.normal(0.47, 0.08), 0.28, 0.7)}
    E = np.clip(g.normal(58.0, 5.5), 45.0, 72.0) if epoxy else np.clip(g.normal(50.0, 6.0), 36.0, 64.0)
    rest = {
        "E": E, "E_start": E + g.normal(3.0, 6.0), "start": float(np.exp(g.normal(np.log(0.02), 0.6))),
        "ratio": g.uniform(0.5, 1.0) if epoxy else g.uniform(1.0, 4.0), "induction": g.uniform(0.05, 1.2), "arrest": np.clip(g.normal(9.0, 5.0), 1.0, 25.0),
        "steep": g.uniform(0.3, 0.55), "alpha_gel": np.clip(g.normal(0.6, 0.04), 0.5, 0.72) if epoxy else float(np.exp(g.normal(np.log(0.05), 0.35))),
        "heat": g.normal(400.0, 35.0) * 1e3 if epoxy else g.normal(345.0, 30.0) * 1e3, "cp": g.normal(1850.0, 100.0),
    }  # fmt: skip
    unscaled = Truth("epoxy-amine" if epoxy else "unsaturated-polyester", 1e-3, **Tg, **rest)
    wanted = float(np.exp(g.uniform(np.log(25.0), np.log(500.0)))) if epoxy else float(np.exp(g.uniform(np.log(9.0), np.log(70.0))))
    # Every rate goes with the speed, so time goes with its reciprocal.
    return Truth(unscaled.family, 1e-3 * unscaled.gel_min(20.0) / wanted, **Tg, **rest)


def faster(truth: Truth, factor: float) -> Truth:
    """Another batch."""
    return Truth(**{**truth.__dict__, "speed": truth.speed * factor})


def measured(truth: Truth, seed: int, *, calorimeter: bool) -> dict[str, Any]:
    """What its laboratory writes down: two cups and three films, and with a calorimeter peaks, heat and Tg."""
    g = np.random.default_rng(50_000 + seed)
    off = g.normal(0.0, 0.5)  # K, of the thermometer
    films = []
    for T in (8.0, 20.0, 32.0):
        true = truth.gel_min(T + off + g.normal(0.0, 0.4))
        films.append({"kind": "film_gel", "temperature_C": T, "time_min": round(float(true * np.exp(g.normal(0.02, 0.06))), 1)})
    cups = []
    for mass in (0.1, 0.05):
        loss = 0.145 * (mass / 0.1) ** (2.0 / 3.0) * np.exp(g.normal(0.0, 0.2))
        t, T, alpha = truth.cup(mass, 20.0 + off, 20.0 + off, loss)
        top = int(T.argmax())
        entry: dict[str, Any] = {"kind": "cup", "mass_g": 1e3 * mass, "air_C": 20, "peak_C": round(float(T[top] + g.normal(-3.0, 4.0)), 1)}
        if T[top] > 30.0:
            entry["peak_min"] = round(float(max(t[top] * np.exp(g.normal(0.0, 0.04)), 0.5)), 1)
        if alpha[-1] > truth.alpha_gel:
            entry["gel_min"] = round(float(max(np.interp(truth.alpha_gel, alpha, t) * np.exp(g.normal(0.02, 0.06)), 0.5)), 1)
        cups.append(entry)
    entries = [*films, *cups]
    if calorimeter:
        for rate in (2.0, 5.0, 10.0):
            entries.append({"kind": "peak", "heating_rate_K_min": rate, "temperature_C": round(truth.peak_C(rate) + g.normal(0.0, 1.0), 1)})
        entries.append({"kind": "heat", "heat_kJ_kg": round(truth.heat / 1e3 * float(np.exp(g.normal(-0.01, 0.04))), 1)})
        entries.append({"kind": "Tg_full", "Tg_C": round(truth.Tg_inf + g.normal(0.0, 2.0), 1)})
        t, alpha = truth.film(20.0, 1440.0)
        entries.append({"kind": "Tg", "temperature_C": 20, "time_h": 24, "Tg_C": round(float(truth.Tg(alpha[-1]) + g.normal(0.0, 2.0)), 1)})
    return {"format": "libcure/study/1", "id": f"laboratory-{seed}", "title": f"Invented laboratory {seed}", "family": truth.family, "measurements": entries}
