"""The laws that can be fitted: their parameters, bounds, starts, and places in a model file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.errors import input_error

__all__ = ["BASES", "DIFFUSIONS", "FitLaw", "Parameter", "number", "span", "worth"]

Array = NDArray[np.float64]
BASES = ("nth-order", "autocatalytic", "kamal-sourour", "two-branch", "epoxy-amine", "parallel")
DIFFUSIONS = ("none", "chern-poehlein", "rabinowitch")
RECIPE = {"hydrogens": "amine hydrogens per epoxide", "hydroxyl": "hydroxyls per epoxide of the fresh mix"}


def number(value: float, digits: int = 4, zeros: bool = False) -> str:
    """A number for people: a power of ten where zeros would have to be counted; ``zeros`` at the end stand or go."""
    text = f"{value:#.{digits}g}".removesuffix(".") if zeros else f"{value:.{digits}g}"
    if not np.isfinite(value) or value == 0.0 or 1e-3 <= abs(value) < 1e5:
        return text if "e" not in text else f"{value:.0f}"
    mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
    return f"{mantissa} × 10{str(int(exponent)).translate(str.maketrans('-0123456789', '⁻⁰¹²³⁴⁵⁶⁷⁸⁹'))}"


def span(low: float, high: float, digits: int = 4, zeros: bool = False) -> str:
    """From one number to another, for people."""
    return f"{number(low, digits, zeros)} to {number(high, digits, zeros)}"


def worth(value: float, low: float, high: float) -> int:
    """How many digits of a value its interval leaves something to say: two of the interval's half width."""
    half = 0.5 * (high - low)
    if value == 0.0 or not np.isfinite(value) or not np.isfinite(half) or half <= 0.0:
        return 4
    return int(np.clip(np.floor(np.log10(abs(value))) - np.floor(np.log10(half)) + 2, 2, 6))


@dataclass(frozen=True)
class Parameter:
    """One parameter of a law, inside as the core has it, outside as people read it."""

    name: str
    """Of the core, such as ``ln_k``."""
    key: str
    """Outside, with its unit: ``k_1_s``, ``E_kJ_mol``."""
    symbol: str
    """For figures and text."""
    unit: str
    """Of the outside value, as in model files."""
    log: bool
    """The core has the natural logarithm of the outside value."""
    factor: float
    """Inside = factor times outside (when not logarithmic)."""
    low: float
    high: float
    """Bounds, inside; relative to the guess for rate constants."""
    start_low: float
    start_high: float
    """Range of the starts, inside; likewise."""
    path: str
    """Place in a model file."""

    @property
    def shown(self) -> str:
        """The symbol of the outside value."""
        return self.symbol.removeprefix("ln ")

    def text(self, value: float, digits: int = 4, zeros: bool = False) -> str:
        """An outside value with its unit."""
        return number(value, digits, zeros) + ("" if self.unit == "1" else f" {self.unit}")

    def outside(self, inside: float) -> float:
        if not self.log:
            return inside / self.factor
        return float(np.exp(inside)) if inside < 700.0 else np.inf

    def inside(self, outside: float) -> float:
        return float(np.log(outside)) if self.log else outside * self.factor


def _rate_constant(name: str, low: float, high: float, path: str) -> Parameter:
    short = name.removeprefix("ln_")
    return Parameter(name, f"{short}_1_s", f"ln {short}", "1/s", True, 1.0, -14.0, 14.0, low, high, f"{path}.k_ref")


def _energy(name: str, path: str) -> Parameter:
    return Parameter(name, f"{name}_kJ_mol", name, "kJ/mol", False, 1e3, 5e3, 400e3, 40e3, 110e3, f"{path}.E")


def _number(name: str, low: float, high: float, start_low: float, start_high: float, path: str,
            symbol: str | None = None) -> Parameter:
    return Parameter(name, name, symbol or name, "1", False, 1.0, low, high, start_low, start_high, path)


def _log_number(name: str, symbol: str, low: float, high: float, start: tuple[float, float], path: str) -> Parameter:
    return Parameter(name, name.removeprefix("ln_"), symbol, "1", True, 1.0, float(np.log(low)), float(np.log(high)),
                     float(np.log(start[0])), float(np.log(start[1])), path)


_KNOWN = {
    p.name: p
    for p in (
        _rate_constant("ln_k", -1.0, 2.0, "rate.k"),
        _energy("E", "rate.k"),
        _rate_constant("ln_k1", -6.0, -0.5, "rate.k1"),
        _energy("E1", "rate.k1"),
        _rate_constant("ln_k2", -0.5, 2.5, "rate.k2"),
        _energy("E2", "rate.k2"),
        _rate_constant("ln_k3", -1.0, 1.0, "rate.k3"),
        _energy("E3", "rate.k3"),
        _number("k2_over_k1", -5.0, 500.0, -0.5, 8.0, "rate.k2.k_ref", "k2/k1"),
        _number("B", 0.05, 1.0, 0.4, 0.98, "rate.B"),
        _number("alpha_switch", 0.02, 0.95, 0.2, 0.6, "rate.alpha_switch", "α_switch"),
        _rate_constant("ln_k_0", -6.0, -1.0, "rate.k_0"),
        _energy("E_0", "rate.k_0"),
        _rate_constant("ln_k_h", -0.5, 2.0, "rate.k_h"),
        _energy("E_h", "rate.k_h"),
        _number("reactivity", 0.01, 10.0, 0.3, 1.2, "rate.reactivity"),
        _number("hydrogens", 0.05, 5.0, 0.9, 1.1, "rate.hydrogens"),
        _number("hydroxyl", 0.0, 2.0, 0.01, 0.2, "rate.hydroxyl"),
        _rate_constant("ln_k_ether", -5.0, -1.0, "rate.k_ether"),
        _energy("E_ether", "rate.k_ether"),
        _rate_constant("ln_k_a", 0.0, 3.0, "rate.branches[0].k"),
        _energy("E_a", "rate.branches[0].k"),
        _number("n_a", 0.05, 8.0, 0.8, 2.0, "rate.branches[0].n"),
        _rate_constant("ln_k_b", -3.0, 0.0, "rate.branches[1].k"),
        _energy("E_b", "rate.branches[1].k"),
        _number("n_b", 0.05, 8.0, 0.8, 2.0, "rate.branches[1].n"),
        _number("share_a", 0.02, 0.98, 0.3, 0.7, "rate.branches[0].share"),
        _number("m", 0.01, 5.0, 0.3, 1.5, "rate.m"),
        _number("n", 0.05, 8.0, 0.8, 2.5, "rate.n"),
        _log_number("ln_alpha0", "ln α0", 1e-8, 0.3, (1e-4, 2e-2), "initial_degree_of_cure"),
        _number("C", 2.0, 200.0, 15.0, 60.0, "diffusion.C"),
        _number("alpha_c", 0.1, 1.5, 0.6, 0.95, "diffusion.alpha_c0", "αc"),
        Parameter("alpha_cT", "alpha_cT_1_K", "αcT", "1/K", False, 1.0, -0.005, 0.02, 0.001, 0.006,
                  "diffusion.alpha_cT"),
        Parameter("ln_k_d0", "k_d0_1_s", "ln k_d0", "1/s", True, 1.0, -14.0, 14.0, -4.0, 4.0, "diffusion.k_d0"),
        _number("C1", 1.0, 150.0, 20.0, 60.0, "diffusion.C1"),
        Parameter("C2", "C2_K", "C2", "K", False, 1.0, 5.0, 500.0, 30.0, 80.0, "diffusion.C2"),
        Parameter("ln_k_z", "k_z_1_s", "ln k_z", "1/s", True, 1.0, -14.0, 14.0, -2.0, 2.0, "inhibitor.k_z.k_ref"),
        Parameter("E_z", "E_z_kJ_mol", "E_z", "kJ/mol", False, 1e3, 5e3, 400e3, 50e3, 130e3, "inhibitor.k_z.E"),
        _log_number("ln_epsilon", "ln ε", 1e-4, 0.9, (3e-3, 1e-1), "inhibitor.epsilon"),
    )
}


@dataclass(frozen=True)
class FitLaw:
    """A law to fit: a base, with what is added to it, and constants that are held."""

    base: str
    """One of :data:`BASES`."""
    diffusion: bool | str = False
    """One of :data:`DIFFUSIONS`; True is ``chern-poehlein``."""
    inhibitor: bool = False
    """An inhibitor is spent first; not with ``parallel`` or ``epoxy-amine``."""
    alpha0: bool | None = None
    """Initial degree of cure as a parameter; by default only for ``autocatalytic``, which needs one."""
    fixed: Mapping[str, float] = field(default_factory=dict)
    """Constants that are held, by outside key: ``{"m": 1.0, "E1_kJ_mol": 80}``."""
    ether: bool = False
    """With etherification; only ``epoxy-amine``."""
    glass_transition: tuple[float, float, float] | None = None
    """Tg0 [K], Tg_inf [K] and lambda of DiBenedetto's equation; ``rabinowitch`` rests on it."""

    def __post_init__(self) -> None:
        if self.base not in BASES:
            raise input_error("law", f'"{self.base}"', f"one of {', '.join(BASES)}")
        if self.diffusion_form not in DIFFUSIONS:
            raise input_error("diffusion", f'"{self.diffusion}"', f"true, false, or one of {', '.join(DIFFUSIONS)}")
        if self.diffusion_form == "rabinowitch" and self.glass_transition is None:
            raise input_error("glass_transition", "missing", "Tg0, Tg_inf and lambda: Rabinowitch diffusion rests on Tg")
        if self.inhibitor and self.base in ("parallel", "epoxy-amine"):
            raise input_error("inhibitor", "true", f"false with the law {self.base}")
        if self.ether and self.base != "epoxy-amine":
            raise input_error("ether", "true", "only with the law epoxy-amine")
        if self.base == "autocatalytic" and self.alpha0 is False:
            raise input_error("alpha0", "false", "true: an autocatalytic law cannot start from nothing")
        known = {p.key: p for p in self.parameters}
        for key, value in self.fixed.items():
            if key not in known:
                raise input_error(f"fixed.{key}", "unknown", f"one of {', '.join(known)}")
            p = known[key]
            limit = (0.0, np.inf) if p.unit == "1/s" else (p.outside(p.low), p.outside(p.high))
            lowest = limit[0] < value or value == limit[0] and p.unit != "1/s"
            if not (lowest and value < np.inf and value <= limit[1]):
                raise input_error(f"fixed.{key}", f"{value:g}", f"{limit[0]:g} to {limit[1]:g}")
        for key, what in RECIPE.items():
            if key in known and key not in self.fixed:
                raise input_error(f"fixed.{key}", "missing", f"{what}, which the recipe tells and no calorimeter")

    @property
    def diffusion_form(self) -> str:
        """One of :data:`DIFFUSIONS`."""
        if isinstance(self.diffusion, str):
            return self.diffusion
        return "chern-poehlein" if self.diffusion else "none"

    @property
    def vitrifies(self) -> bool:
        """Whether the law has diffusion control."""
        return self.diffusion_form != "none"

    @property
    def parts(self) -> tuple[str, bool, bool, str, bool]:
        """As the core takes it."""
        return self.base, self.ether, self.has_alpha0, self.diffusion_form, self.inhibitor

    @property
    def has_alpha0(self) -> bool:
        return self.base == "autocatalytic" if self.alpha0 is None else self.alpha0

    @property
    def label(self) -> str:
        """Short name."""
        diffusion = "Rabinowitch diffusion" if self.diffusion_form == "rabinowitch" else "diffusion"
        extra = [word for word, on in (("ether", self.ether), (diffusion, self.vitrifies), ("inhibitor", self.inhibitor))
                 if on]
        held = [f"{key} = {value:g}" for key, value in self.fixed.items()]
        return " ".join([self.base, *(f"+ {word}" for word in extra)]) + (f" ({', '.join(held)})" if held else "")

    @property
    def parameters(self) -> list[Parameter]:
        """All parameters, in the core's order."""
        return [_KNOWN[name] for name in _core.fit.parameters(self.parts)]

    @property
    def free(self) -> list[int]:
        """Which of them are fitted."""
        return [i for i, p in enumerate(self.parameters) if p.key not in self.fixed]

    def core(self, T_ref: float, values: Array, loss: str = "linear", loss_scale: float = 1.0,
             tolerance: float = 1e-6) -> _core.fit.Problem:
        """An empty problem of the core; ``values`` (all parameters, inside) serve those that are held."""
        return _core.fit.Problem(self.parts, T_ref, self.glass_transition or (0.0, 0.0, 1.0),
                                 [float(v) for v in values], self.free, loss, loss_scale, tolerance)

    def held(self) -> Array:
        """All parameters, inside: those held at their values, the rest at the middle of their starts."""
        return np.array([
            p.inside(self.fixed[p.key]) if p.key in self.fixed else 0.5 * (p.start_low + p.start_high)
            for p in self.parameters
        ])

    def box(self, ln_k: float, E: float | None, starts: bool) -> tuple[Array, Array]:
        """Lower and upper values of the free parameters, inside.

        Args:
            ln_k: logarithm of the rate constant to be expected at the reference temperature.
            E: activation energy to be expected [J/mol], if known.
            starts: the range of the starts, not the bounds.
        """
        low, high = [], []
        for p in (self.parameters[i] for i in self.free):
            a, b = (p.start_low, p.start_high) if starts else (p.low, p.high)
            if p.unit == "1/s":
                a, b = a + ln_k, b + ln_k
            elif starts and E is not None and p.unit == "kJ/mol":
                a, b = 0.75 * E, 1.35 * E
            low.append(a)
            high.append(b)
        return np.array(low), np.array(high)

    def ordered(self, x: Array) -> Array | None:
        """Free parameters of two parallel reactions with their names exchanged, where b is the faster one at T_ref.

        Which of two like reactions is called a is nobody's business but ours; None where they stand right, or where a
        held constant tells them apart.
        """
        names = [self.parameters[i].name for i in self.free]
        if self.base != "parallel" or {"share_a", "k_a_1_s", "k_b_1_s", "E_a_kJ_mol", "E_b_kJ_mol", "n_a",
                                       "n_b"} & set(self.fixed) or x[names.index("ln_k_a")] >= x[names.index("ln_k_b")]:
            return None
        out = np.array(x)
        for stem in ("ln_k_", "E_", "n_"):
            a, b = names.index(stem + "a"), names.index(stem + "b")
            out[a], out[b] = x[b], x[a]
        out[names.index("share_a")] = 1.0 - x[names.index("share_a")]
        return out

    def document(self, T_ref: float, x: Array) -> dict[str, Any]:
        """Values by outside key at all parameters ``x`` (inside)."""
        return {p.key: p.outside(float(v)) for p, v in zip(self.parameters, x, strict=True)}
