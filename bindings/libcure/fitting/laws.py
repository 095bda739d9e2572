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
BASES = tuple(_core.fit.bases)
DIFFUSIONS = tuple(_core.fit.diffusions)


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
    """One parameter of a law, inside as the core has it, outside as people read it. All is said by the core's laws."""

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
    ratio_to: str
    """Name of the parameter whose rate constant it is a multiple of; empty: none."""
    recipe: str
    """What the recipe tells, in words; empty: nothing."""

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
    """Initial degree of cure as a parameter; by default only where the law cannot start without."""
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
        if _core.fit.bases[self.base] and self.alpha0 is False:
            raise input_error("alpha0", "false", f"true: the law {self.base} cannot start from nothing")
        known = {p.key: p for p in self.parameters}
        for key, value in self.fixed.items():
            if key not in known:
                raise input_error(f"fixed.{key}", "unknown", f"one of {', '.join(known)}")
            p = known[key]
            limit = (0.0, np.inf) if p.unit == "1/s" else (p.outside(p.low), p.outside(p.high))
            lowest = limit[0] < value or (value == limit[0] and p.unit != "1/s")
            if not (lowest and value < np.inf and value <= limit[1]):
                raise input_error(f"fixed.{key}", f"{value:g}", f"{limit[0]:g} to {limit[1]:g}")
        for key, p in known.items():
            if p.recipe and key not in self.fixed:
                raise input_error(f"fixed.{key}", "missing", f"{p.recipe}, which the recipe tells and no calorimeter")

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
        return _core.fit.bases[self.base] if self.alpha0 is None else self.alpha0

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
        return [Parameter(**p) for p in _core.fit.parameters(self.parts)]

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
