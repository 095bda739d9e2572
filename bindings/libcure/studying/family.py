"""What is believed of a resin before anything is measured: by family, every constant that a prediction uses, as a wide range.

A resin is a row of standard normal numbers. Each entry of a family turns one of them into a quantity that people can judge (gel
time of a film at 20 °C, activation energy, by how much Tg stands above the cure temperature when a film comes to rest ...), and
:meth:`Family.values` turns these into the constants of a resin model. Ranges and sources stand beside each entry; a number without a
source is an assumption of this project.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np
import scipy
from numpy.typing import NDArray

from libcure.documents import read_object
from libcure.errors import input_error
from libcure.models import resin_path

__all__ = ["ARREST_RATE", "C2", "FAMILIES", "Family", "Prior", "find_family"]

Floats = NDArray[np.float64]
R_GAS = 8.314462618  # J/(mol K)
T_REF = 293.15  # K
C2 = 51.6  # K, of the WLF equation (Williams, Landel, Ferry 1955; from memory)
ARREST_RATE = 1.5e-6  # 1/s; a film that cures as slowly has come to rest for a day (0.13 of conversion; assumption)


@dataclass(frozen=True)
class Prior:
    """One quantity before anything is measured."""

    name: str
    title: str
    of: Callable[[Floats], Floats]
    """The quantity at standard normal numbers, any shape."""
    words: str
    source: str

    def range(self) -> tuple[float, float, float]:
        """5, 50 and 95 %."""
        low, middle, high = self.of(np.array([-1.6449, 0.0, 1.6449]))
        return float(low), float(middle), float(high)


def _uniform_of(u: Floats) -> Floats:
    """Points of the unit interval at standard normal numbers."""
    return np.asarray(scipy.special.ndtr(u))


def _normal(mean: float, sd: float, low: float = -np.inf, high: float = np.inf) -> Callable[[Floats], Floats]:
    """A normal distribution, cut off and filled up again between its ends."""

    def of(u: Floats) -> Floats:
        a, b = (float(scipy.special.ndtr((end - mean) / sd)) for end in (low, high))
        if a == 0.0 and b == 1.0:
            return mean + sd * u
        return np.asarray(mean + sd * scipy.special.ndtri(a + (b - a) * _uniform_of(u)))

    return of


def _log_normal(median: float, sd: float) -> Callable[[Floats], Floats]:
    return lambda u: np.asarray(median * np.exp(sd * u))


def _log_uniform(low: float, high: float) -> Callable[[Floats], Floats]:
    return lambda u: np.asarray(low * (high / low) ** _uniform_of(u))


@dataclass(frozen=True)
class Family:
    """A family of resins."""

    name: str
    title: str
    template: str
    """The demo model whose properties stand where nothing is uncertain."""
    hazards: tuple[str, ...]
    priors: tuple[Prior, ...]
    law: str
    """``kamal-sourour``; ``autocatalytic`` after an induction by an inhibitor, of peroxide-cured resins; or ``nth-order``."""

    @property
    def inhibited(self) -> bool:
        """Whether an induction by an inhibitor comes before the cure."""
        return self.law == "autocatalytic"

    @property
    def dimensions(self) -> int:
        """Normal numbers of a resin."""
        return len(self.priors)

    def quantities(self, u: Floats) -> dict[str, Floats]:
        """The priors' quantities of rows u (n, dimensions), each (n,)."""
        return {p.name: p.of(u[:, j]) for j, p in enumerate(self.priors)}

    def values(self, u: Floats) -> dict[str, Floats]:
        """Constants of resins by their path in a model file, each (n,) in the unit of :meth:`document`.

        Args:
            u: standard normal numbers (n, dimensions).
        """
        q = self.quantities(u)
        t_gel = 60.0 * q["gel_time"]
        # At rest where k_d has fallen to ARREST_RATE, `arrest` kelvin below Tg.
        k_d0 = ARREST_RATE * np.exp(q["C1"] * q["arrest"] / (C2 + q["arrest"]))
        found = {
            "diffusion.k_d0": k_d0, "diffusion.C1": q["C1"], "glass_transition.Tg0": q["Tg0"], "glass_transition.Tg_inf": q["Tg_inf"],
            "glass_transition.lambda": q["lambda"], "gel.alpha_gel": q["alpha_gel"], "heat_of_reaction": q["heat"],
            "specific_heat": q["specific_heat"], "rate.n": q["n"], "modulus.glass": q["modulus"], "modulus.width": q["modulus_width"],
            "shrinkage": q["shrinkage"],
        }  # fmt: skip
        if self.inhibited:
            return found | {
                "rate.k.k_ref": _integral(0.001, q["alpha_gel"], 0.0, q["m"], q["n"]) / ((1.0 - q["induction"]) * t_gel), "rate.m": q["m"],
                "rate.k.E": q["E"], "inhibitor.k_z.k_ref": 1.0 / (q["induction"] * t_gel), "inhibitor.k_z.E": q["E"] + q["E_more"],
            }  # fmt: skip
        if self.law == "nth-order":
            found |= {"rate.k.k_ref": _integral(0.0, q["alpha_gel"], 0.0, 0.0 * q["n"], q["n"]) / t_gel, "rate.k.E": q["E"]}
        else:
            k2 = _integral(0.0, q["alpha_gel"], q["k1_share"], q["m"], q["n"]) / t_gel
            found |= {
                "rate.k2.k_ref": k2, "rate.k1.k_ref": q["k1_share"] * k2, "rate.k2.E": q["E"], "rate.k1.E": q["E"] + q["E_more"], "rate.m": q["m"],
            }  # fmt: skip
        eta0 = q["viscosity"] * np.exp(-1e3 * q["E_viscosity"] / (R_GAS * T_REF))
        return found | {"viscosity.eta0": eta0, "viscosity.E": q["E_viscosity"], "viscosity.A": q["A"]}

    def document(self) -> dict[str, Any]:
        """A resin model with the family's laws; the values of its uncertain constants are to be filled in."""
        base = dict(read_object(resin_path(self.template)))
        for key in ("covariance", "reference_outcomes"):
            base.pop(key, None)
        blank = _blank
        rate: dict[str, Any] = {"n": blank("1")}
        if self.law != "nth-order":
            rate["m"] = blank("1")
        names = ("k1", "k2") if self.law == "kamal-sourour" else ("k",)
        rate |= {k: {"k_ref": blank("1/s"), "E": blank("kJ/mol"), "T_ref": blank("degC", 20.0)} for k in names}
        rate["law"] = self.law
        base |= {
            "rate": rate, "hazards": list(self.hazards),
            "diffusion": {"form": "rabinowitch", "k_d0": blank("1/s"), "C1": blank("1"), "C2": blank("K", C2)},
            "heat_of_reaction": blank("kJ/kg"), "specific_heat": blank("J/(kg K)"), "gel": {"alpha_gel": blank("1")},
            "glass_transition": {"method": "calorimetry-midpoint", "Tg0": blank("degC"), "Tg_inf": blank("degC"), "lambda": blank("1")},
            "initial_degree_of_cure": blank("1", 0.001 if self.inhibited else 0.0), "shrinkage": blank("%"),
            "modulus": {"glass": blank("GPa"), "rubber": blank("MPa", 15.0), "width": blank("K")},
        }  # fmt: skip
        if self.inhibited:
            base["inhibitor"] = {"k_z": {"k_ref": blank("1/s"), "E": blank("kJ/mol"), "T_ref": blank("degC", 20.0)}, "epsilon": blank("1", 0.02)}
        else:
            base["viscosity"] = {"eta0": blank("Pa s"), "E": blank("kJ/mol"), "A": blank("1"), "B": blank("1", 0.5)}
        return base


def _blank(unit: str, value: float = 0.0) -> dict[str, Any]:
    return {"value": value, "unit": unit, "basis": "assumption", "source": "none", "where": "prior of the family", "note": "not measured"}


def _integral(start: float, alpha_gel: Floats, k1_share: Floats | float, m: Floats, n: Floats) -> Floats:
    """k2 t to gelation of (k1/k2 + alpha^m) (1 - alpha)^n without diffusion, by Gauss-Legendre in a variable that is dense at the start."""
    x, w = np.polynomial.legendre.leggauss(64)
    s = 0.5 * (x + 1.0)
    # alpha = start + (gel - start) s^4 spreads points where alpha is small.
    span = np.asarray(alpha_gel)[:, None] - start
    alpha = start + span * s**4
    rate = (np.reshape(k1_share, (-1, 1)) + alpha ** np.asarray(m)[:, None]) * (1.0 - alpha) ** np.asarray(n)[:, None]
    return np.asarray((4.0 * span * s**3 / rate * (0.5 * w)).sum(axis=1))


ASSUMED = "assumption, no source"


def _stiffness(shrinkage: float) -> tuple[Prior, ...]:
    return (
        Prior("modulus", "Modulus of the glass [GPa]", _log_normal(2.6, 0.15), "2.6 GPa, × or ÷ 1.16", ASSUMED),
        Prior("modulus_width", "Width of the glass transition [K]", _log_normal(6.8, 0.3), "6.8 K, × or ÷ 1.35",
              "a transition some 30 K wide (ACI 440.2R-17, as transcribed)"),
        Prior("shrinkage", "Shrinkage of the volume [%]", _log_normal(shrinkage, 0.25), f"{shrinkage:g} %, × or ÷ 1.3", ASSUMED),
    )  # fmt: skip


@cache
def _epoxy() -> Family:
    priors = (
        Prior("gel_time", "Gel time of a film at 20 °C [min]", _log_uniform(8.0, 1500.0), "8 to 1500 min, log-uniform", ASSUMED),
        Prior("E", "Activation energy [kJ/mol]", _normal(59.0, 7.0, 35.0, 85.0), "59 kJ/mol (sd 7)",
              "mean and scatter of ten published values of epoxy-amines, among them Riccardi et al. 1984, Barral et al. 1995, "
              "J. Appl. Polym. Sci. 92 (2004) 1190, Sbirrazzuoli et al. 2006 (abstracts)"),
        Prior("E_more", "Activation energy of the start over it [kJ/mol]", _normal(3.0, 10.0, -20.0, 50.0), "3 kJ/mol (sd 10)",
              "Riccardi et al. 1984 (44 more), Barral et al. 1995 (alike), abstracts"),
        Prior("k1_share", "Rate constant of the start over the autocatalytic one [-]", _log_normal(0.015, 1.0), "0.015, × or ÷ 2.7", ASSUMED),
        Prior("m", "Order in conversion [-]", _log_normal(1.0, 0.2), "1.0, × or ÷ 1.2", "m + n of 2.1 to 3.0: Barral et al. 1995 (abstract)"),
        Prior("n", "Order in what is left [-]", _log_normal(1.7, 0.2), "1.7, × or ÷ 1.2", "m + n of 2.1 to 3.0: Barral et al. 1995 (abstract)"),
        Prior("alpha_gel", "Gel conversion [-]", _normal(0.58, 0.06, 0.35, 0.8), "0.58 (sd 0.06)",
              "Flory and Stockmayer's 0.58; measured 0.42 and 0.7 (abstracts)"),
        Prior("Tg0", "Tg of the fresh mix [°C]", _normal(-33.0, 8.0, -65.0, -5.0), "-33 °C (sd 8)", "resin alone -22 °C (abstract), else an assumption"),
        Prior("Tg_inf", "Tg when fully cured [°C]", _normal(95.0, 20.0, 45.0, 165.0), "95 °C (sd 20)", "60 to 95 °C of room-temperature hardeners, "
              "from memory; 119 °C of a branched aliphatic one (Wan et al. 2017, abstract)"),
        Prior("lambda", "Shape of Tg against conversion [-]", _normal(0.42, 0.08, 0.2, 0.9), "0.42 (sd 0.08)", ASSUMED),
        Prior("arrest", "Tg over the cure temperature after a day at rest [K]", _normal(20.0, 8.0, 2.0, 50.0), "20 K (sd 8)",
              "no source for one family at 5 to 25 °C; measured plateaus by dynamic onset 35 to 60 K (ACI 440.2R-17, as transcribed)"),
        Prior("C1", "Steepness of mobility against Tg - T [-]", _normal(38.0, 5.0, 20.0, 55.0), "38 (sd 5)", "40.2 of the WLF equation, from memory"),
        Prior("heat", "Heat of reaction [kJ/kg]", _normal(400.0, 50.0, 200.0, 560.0), "400 kJ/kg (sd 50)", "100 to 107 kJ/mol of epoxide, from memory"),
        Prior("specific_heat", "Specific heat [J/(kg K)]", _normal(1850.0, 130.0, 1300.0, 2400.0), "1850 J/(kg K) (sd 130)", ASSUMED),
        Prior("viscosity", "Viscosity of the fresh mix at 20 °C [Pa s]", _log_normal(1.2, 0.6), "1.2 Pa s, × or ÷ 1.8", ASSUMED),
        Prior("E_viscosity", "Its activation energy [kJ/mol]", _normal(56.0, 8.0, 25.0, 85.0), "56 kJ/mol (sd 8)", ASSUMED),
        Prior("A", "Rise of viscosity towards gelation [-]", _normal(2.3, 0.5, 0.8, 5.0), "2.3 (sd 0.5)",
              "four urethane sets: Castro, Macosko 1982 and later, as transcribed"),
        *_stiffness(5.0),
    )  # fmt: skip
    return Family("epoxy-amine", "epoxy with an amine hardener", "epoxy-amine-medium", ("amine",), priors, "kamal-sourour")


@cache
def _urethane() -> Family:
    priors = (
        Prior("gel_time", "Gel time of a film at 20 °C [min]", _log_uniform(5.0, 180.0), "5 to 180 min, log-uniform", ASSUMED),
        Prior("E", "Activation energy [kJ/mol]", _normal(55.0, 11.0, 25.0, 85.0), "55 kJ/mol (sd 11)",
              "70 and 50 kJ/mol in bulk (Sultan & Busnel, abstract); 35 to 77 in one system by catalyst (Polymer 46 (2005) 15, abstract)"),
        Prior("n", "Order in what is left [-]", _log_normal(2.0, 0.08), "2.0, × or ÷ 1.08", "second order in bulk: Sultan & Busnel (abstract)"),
        Prior("alpha_gel", "Gel conversion [-]", _normal(0.64, 0.08, 0.35, 0.85), "0.64 (sd 0.08)", "0.85, 0.65, 0.64 of three sets (Castro, Macosko 1982 and "
              "later, as transcribed)"),
        Prior("Tg0", "Tg of the fresh mix [°C]", _normal(-50.0, 12.0, -90.0, -10.0), "-50 °C (sd 12)", ASSUMED),
        Prior("Tg_inf", "Tg when fully cured [°C]", _normal(75.0, 20.0, 25.0, 150.0), "75 °C (sd 20)", ASSUMED),
        Prior("lambda", "Shape of Tg against conversion [-]", _normal(0.5, 0.12, 0.2, 0.9), "0.5 (sd 0.12)", ASSUMED),
        Prior("arrest", "Tg over the cure temperature after a day at rest [K]", _normal(10.0, 6.0, 1.0, 45.0), "10 K (sd 6)", ASSUMED),
        Prior("C1", "Steepness of mobility against Tg - T [-]", _normal(38.0, 5.0, 20.0, 55.0), "38 (sd 5)", "40.2 of the WLF equation, from memory"),
        Prior("heat", "Heat of reaction [kJ/kg]", _log_normal(180.0, 0.27), "180 kJ/kg, × or ÷ 1.3", "55 to 72 kJ/mol (Sultan & Busnel, abstract) over usual "
              "equivalents"),
        Prior("specific_heat", "Specific heat [J/(kg K)]", _normal(1850.0, 120.0, 1300.0, 2400.0), "1850 J/(kg K) (sd 120)", "1800 of a reacting liquid, "
              "as transcribed"),
        Prior("viscosity", "Viscosity of the fresh mix at 20 °C [Pa s]", _log_normal(1.0, 0.8), "1.0 Pa s, × or ÷ 2.2", ASSUMED),
        Prior("E_viscosity", "Its activation energy [kJ/mol]", _normal(42.0, 5.0, 25.0, 70.0), "42 kJ/mol (sd 5)", "four urethane sets: Castro, Macosko 1982 "
              "and later, as transcribed"),
        Prior("A", "Rise of viscosity towards gelation [-]", _normal(2.3, 0.6, 0.8, 5.0), "2.3 (sd 0.6)", "the same"),
        *_stiffness(5.0),
    )  # fmt: skip
    return Family("polyurethane", "polyurethane of isocyanate and polyol", "epoxy-amine-medium", ("isocyanate",), priors, "nth-order")


@cache
def _peroxide(name: str, title: str, template: str, E: float, E_sd: float, Tg_inf: float, arrest: tuple[float, float], heat: float) -> Family:
    priors = (
        Prior("gel_time", "Gel time of a film at 20 °C [min]", _log_uniform(5.0, 150.0), "5 to 150 min, log-uniform", ASSUMED),
        Prior("E", "Activation energy [kJ/mol]", _normal(E, E_sd, 28.0, 80.0), f"{E:g} kJ/mol (sd {E_sd:g})",
              "redox step 40 to 60: J. Appl. Polym. Sci. 102 (2006) 1870 (abstract); two peaks each of two resins: Polymers 16 (2024) 2391"),
        Prior("E_more", "Activation energy of the induction over it [kJ/mol]", _normal(10.0, 12.0, -20.0, 50.0), "10 kJ/mol (sd 12)", ASSUMED),
        Prior("induction", "Share of the induction in the gel time [-]", _normal(0.5, 0.2, 0.05, 0.95), "0.5 (sd 0.2)", ASSUMED),
        Prior("m", "Order in conversion [-]", _log_normal(0.7, 0.35), "0.7, × or ÷ 1.4", ASSUMED),
        Prior("n", "Order in what is left [-]", _log_normal(1.1, 0.3), "1.1, × or ÷ 1.35",
              "first order by the loss of double bonds, less with the gel effect; assumption"),
        Prior("alpha_gel", "Gel conversion [-]", _log_normal(0.04, 0.5), "0.04, × or ÷ 1.65", ASSUMED),
        Prior("Tg0", "Tg of the fresh mix [°C]", _normal(-60.0, 12.0, -100.0, -20.0), "-60 °C (sd 12)", ASSUMED),
        Prior("Tg_inf", "Tg when fully cured [°C]", _normal(Tg_inf, 14.0, 50.0, 170.0), f"{Tg_inf:g} °C (sd 14)",
              "107 °C of a post-cured vinyl ester by dynamic analysis: Herzog et al. 2005 (abstract), else an assumption"),
        Prior("lambda", "Shape of Tg against conversion [-]", _normal(0.45, 0.12, 0.2, 0.9), "0.45 (sd 0.12)", ASSUMED),
        Prior("arrest", "Tg over the cure temperature after a day at rest [K]", _normal(*arrest, 2.0, 50.0), f"{arrest[0]:g} K (sd {arrest[1]:g})",
              "11 K of a vinyl ester: Cook et al. 1997 (abstract); some 25 K by Herzog et al. 2005 (abstract)"),
        Prior("C1", "Steepness of mobility against Tg - T [-]", _normal(38.0, 5.0, 20.0, 55.0), "38 (sd 5)", "40.2 of the WLF equation, from memory"),
        Prior("heat", "Heat of reaction [kJ/kg]", _normal(heat, 42.0, 180.0, 520.0), f"{heat:g} kJ/kg (sd 42)",
              "66 kJ/mol of double bonds: Lucas, Borrajo, Williams 1993 (abstract)"),
        Prior("specific_heat", "Specific heat [J/(kg K)]", _normal(1800.0, 120.0, 1300.0, 2400.0), "1800 J/(kg K) (sd 120)", ASSUMED),
        *_stiffness(7.5),
    )  # fmt: skip
    return Family(name, title, template, ("styrene", "peroxide"), priors, "autocatalytic")


FAMILIES: Mapping[str, Callable[[], Family]] = MappingProxyType({
    "epoxy-amine": _epoxy,
    "unsaturated-polyester": lambda: _peroxide("unsaturated-polyester", "unsaturated polyester with peroxide and cobalt", "unsaturated-polyester-cold",
                                               50.0, 7.0, 95.0, (15.0, 7.0), 345.0),
    "polyurethane": _urethane,
    "vinyl-ester": lambda: _peroxide("vinyl-ester", "vinyl ester with peroxide and cobalt", "vinyl-ester-cold", 51.0, 9.0, 115.0, (16.0, 7.0), 360.0),
})  # fmt: skip


def find_family(name: str, file: str = "") -> Family:
    """A family by its name.

    Raises:
        CureError: none of that name.
    """
    if name not in FAMILIES:
        raise input_error("family", f'"{name}"', "one of " + ", ".join(FAMILIES), file)
    return FAMILIES[name]()
