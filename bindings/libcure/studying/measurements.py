"""What can be measured of a resin without a laboratory, and with one: each as numbers that a resin model can be asked for.

A measurement has components, such as gel time and peak of a cup: each an observed value on a scale on which its error is normal but
for some stray ones (ln of a time, a temperature, a share), and the standard deviation of that error. The defaults are assumptions but
for those with a source; a document may state others by ``sd``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.documents.csv_table import read_table
from libcure.documents.fields import Fields
from libcure.errors import input_error

__all__ = ["CUPS", "KINDS", "Component", "Measurement", "read_measurement", "release_of", "time_to"]

Floats = NDArray[np.float64]
ZERO = 273.15
PAST_GEL, MARGIN = 0.05, 11.0
"""Of the release: degree of cure beyond gelation, and Tg over the temperature [K], as for loads that stay two hours
(libcure/include/cure/process/release_needs.hpp)."""
NEVER = 12.0
"""ln of the time [min] that stands for never: some hundred days. Never and a stated time are then far apart, but finitely."""
CUPS: Mapping[str, float] = MappingProxyType({"plastic": 0.145, "paper": 0.145, "foam": 0.07, "metal": 0.2})
"""Heat loss of 100 g in a cup, [W/K]: computed for still air (free convection and radiation, as in handbooks), ± 25 %; foam and metal
are assumptions."""
CUP_SD = 0.25


@dataclass(frozen=True)
class Component:
    """One number of a measurement."""

    name: str
    observed: float
    """On its scale: ln of minutes, K, or the value itself."""
    sd: float
    unit: str
    """``min`` or a unit, of a value whose ln is observed; ``°C`` of one observed in K; empty of a share."""

    def words(self, value: float) -> str:
        """A value on the scale, as people say it."""
        if self.unit == "°C":
            return f"{value - ZERO:.0f} °C"
        if not self.unit:
            return f"{value:.2f}"
        if self.unit != "min":
            return f"{math.exp(value):.3g} {self.unit}"
        minutes = math.exp(min(value, NEVER))
        if value >= NEVER - 0.5:
            return "never"
        return f"{minutes:.3g} min" if minutes < 600.0 else f"{minutes / 60.0:.3g} h"


Ask = Callable[[_core.Resin, float], Sequence[float]]
"""What a resin would show, a number a component, on its scale; the second argument multiplies the heat loss of a cup."""


@dataclass(frozen=True)
class Measurement:
    """One measurement of a study."""

    name: str
    kind: str
    components: tuple[Component, ...]
    ask: Ask
    hold_back: bool
    cup: str
    """Kind of cup, whose heat loss is unknown; empty of all else."""
    temperature_C: float
    """At which the resin was, for what a model has been seen at."""
    cost_min: float
    """How long it takes."""


def time_to(met: NDArray[np.bool_], t: Floats, value: Floats, target: float) -> float:
    """ln of the time [min] from which a rising value stays at its target; :data:`NEVER` when not.

    Args:
        met: (n,) whether the target is met.
        t: (n,) times [s], the first above 0.
        value: (n,), of which the crossing is interpolated in ln t.
    """
    late = np.flatnonzero(~met)
    i = 0 if late.size == 0 else int(late[-1]) + 1
    if i >= t.size:
        return NEVER
    if i == 0:
        return math.log(t[0] / 60.0)
    low, high = value[i - 1], value[i]
    share = 1.0 if high <= low else min(max((target - low) / (high - low), 0.0), 1.0)
    return float(np.log(t[i - 1] / 60.0) + share * np.log(t[i] / t[i - 1]))


def _grid(last_s: float, first_s: float = 20.0) -> Floats:
    return np.geomspace(first_s, max(last_s, 4.0 * first_s), 240)


def film_gel(T: float, horizon_s: float) -> Callable[[_core.Resin], float]:
    """ln of the gel time [min] of a film at T [K]."""
    t = _grid(horizon_s)

    def of(resin: _core.Resin) -> float:
        alpha = resin.isothermal(np.array([T]), t, resin.initial_degree_of_cure)[0]
        return time_to(alpha >= resin.alpha_gel, t, alpha, resin.alpha_gel)

    return of


def release_of(T: float, horizon_s: float = 4e5) -> Callable[[_core.Resin], float]:
    """ln of the time [min] from which a film at T [K] may be loaded: gelled with a margin, glassy by :data:`MARGIN`."""
    t = _grid(horizon_s, 60.0)

    def of(resin: _core.Resin) -> float:
        alpha = resin.isothermal(np.array([T]), t, resin.initial_degree_of_cure)[0]
        over = resin.glass_transition(alpha) - T - MARGIN
        gelled = resin.alpha_gel + PAST_GEL
        # Of both needs the later one.
        return max(time_to(over >= 0.0, t, over, 0.0), time_to(alpha >= gelled, t, alpha, gelled))

    return of


class _Reading:
    """One object of the list ``measurements``."""

    def __init__(self, fields: Fields, beside: Path) -> None:
        self.f, self.beside = fields, beside

    def temperature(self, key: str, low: float = -20.0, high: float = 250.0, default: float | None = None) -> float:
        """[K], from ``key_C`` or ``key_F``."""
        f = self.f
        if f.has(f"{key}_F"):
            if f.has(f"{key}_C"):
                raise f.refuse_words(f"{key}_F", "given", f"not together with {key}_C")
            return (f.number(f"{key}_F", 1.8 * low + 32.0, 1.8 * high + 32.0) - 32.0) / 1.8 + ZERO
        return f.number(f"{key}_C", low, high, default=default) + ZERO

    def time(self, key: str = "time") -> float:
        """[min], from ``key_min`` or ``key_h``."""
        f = self.f
        if f.has(f"{key}_h"):
            if f.has(f"{key}_min"):
                raise f.refuse_words(f"{key}_h", "given", f"not together with {key}_min")
            return 60.0 * f.number(f"{key}_h", 0.0, 10000.0, above=True)
        return f.number(f"{key}_min", 0.0, 600000.0, above=True)

    def sd(self, usual: float, key: str = "sd") -> float:
        return self.f.number(key, 0.0, 1e3, default=usual, above=True)

    def gone(self, T: float, minutes: float) -> Callable[[_core.Resin], float]:
        """Degree of cure after some time at T."""
        return lambda resin: float(resin.isothermal(np.array([T]), np.array([60.0 * minutes]), resin.initial_degree_of_cure)[0, 0])


Made = tuple[list[Component], Ask, float, float]
"""Components, what to ask, temperature [°C], how long it takes [min]."""


def _film_gel(r: _Reading) -> Made:
    T, minutes = r.temperature("temperature", high=120.0), r.time()
    of = film_gel(T, 2400.0 * minutes)
    # 4 % for 0.5 K, 5 % judgement of the stick, 6 % for another place's air (assumptions).
    return [Component("gel", math.log(minutes), r.sd(0.09), "min")], lambda resin, _: [of(resin)], T - ZERO, minutes


def _releasable(r: _Reading) -> Made:
    T, minutes = r.temperature("temperature", high=80.0), r.time()
    of = release_of(T, 4000.0 * minutes)
    # A maker's demould or hardness time is no measurement of the criterion.
    return [Component("may be loaded", math.log(minutes), r.sd(0.3), "min")], lambda resin, _: [of(resin)], T - ZERO, minutes


def _conversion(r: _Reading) -> Made:
    T, minutes = r.temperature("temperature"), r.time()
    gone = r.gone(T, minutes)
    alpha = r.f.number("alpha", 0.0, 1.0)
    return [Component("degree of cure", alpha, r.sd(0.03), "")], lambda resin, _: [gone(resin)], T - ZERO, minutes


def _residual_heat(r: _Reading) -> Made:
    T, minutes = r.temperature("temperature"), r.time()
    gone = r.gone(T, minutes)
    share = r.f.number("share", 0.0, 1.0)
    return [Component("heat that is left", share, r.sd(0.04), "")], lambda resin, _: [1.0 - gone(resin)], T - ZERO, minutes


def _tg(r: _Reading) -> Made:
    T, minutes = r.temperature("temperature"), r.time()
    method = r.f.choice("method", ["calorimetry", "dynamic onset"], default="calorimetry")
    gone = r.gone(T, minutes)
    over = 10.0 if method == "dynamic onset" else 0.0  # from memory
    Tg = r.temperature("Tg", -60.0, 250.0)
    sd = r.sd(3.0 if over == 0.0 else 5.0)  # between laboratories (round robin on polystyrene, 2 K; networks wider)

    def ask(resin: _core.Resin, _: float) -> list[float]:
        return [float(resin.glass_transition(np.array([gone(resin)]))[0]) + over]

    return [Component("Tg", Tg, sd, "°C")], ask, T - ZERO, minutes


def _tg_full(r: _Reading) -> Made:
    Tg = r.temperature("Tg", -20.0, 300.0)
    return [Component("Tg when fully cured", Tg, r.sd(4.0), "°C")], lambda resin, _: [float(resin.glass_transition(np.ones(1))[0])], math.nan, 240.0


def _heat(r: _Reading) -> Made:
    heat = r.f.number("heat_kJ_kg", 1.0, 2000.0)
    return [Component("heat of reaction", math.log(heat), r.sd(0.05), "kJ/kg")], lambda resin, _: [math.log(resin.heat_of_reaction / 1e3)], math.nan, 120.0


def _peak(r: _Reading) -> Made:
    rate = r.f.number("heating_rate_K_min", 0.1, 100.0)
    T = r.temperature("temperature", 0.0, 300.0)
    start = r.temperature("start", -60.0, 100.0, default=-20.0)

    def ask(resin: _core.Resin, _: float) -> list[float]:
        temperatures = np.linspace(start, T + 120.0, 600)
        slope = resin.ramp(np.array([rate / 60.0]), temperatures, resin.initial_degree_of_cure)[1][0]
        return [float(temperatures[int(slope.argmax())])]

    return [Component("peak of the heat flow", T, r.sd(3.0), "°C")], ask, T - ZERO, (T - start) / rate


MARKS = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Shares of the heat of a ramp whose temperatures count: some five independent numbers, however many points the record has."""


def _ramp(r: _Reading) -> Made:
    """A calorimeter's record: the temperatures at shares of its heat, and the heat."""
    from libcure.fitting import records
    from libcure.fitting.record import read_csv

    f = r.f
    rate = f.number("heating_rate_K_min", 0.1, 100.0)
    mass = f.number("mass_mg", 0.1, 1000.0) / 1e6
    up = f.choice("exotherm", ["up", "down"]) == "up"
    run = records.analyse(read_csv(r.beside / f.text("file")), f.at("file"), mass_kg=mass, exotherm_up=up, heating_rate=rate / 60.0)
    at = [float(np.interp(share, run.alpha, run.T)) for share in MARKS]
    sd = r.sd(2.5)  # K: the heat's error moves the marks by some 1 to 2 K, the thermometer is good to 1 K (from memory)
    start = float(run.T[0])
    components = [Component(f"{100.0 * share:.0f} % of the heat", T, sd, "°C") for share, T in zip(MARKS, at, strict=True)]
    components.append(Component("heat of reaction", math.log(run.heat / 1e3), 0.05, "kJ/kg"))

    def ask(resin: _core.Resin, _: float) -> list[float]:
        temperatures = np.linspace(min(start, 253.15), at[-1] + 150.0, 600)
        alpha = resin.ramp(np.array([rate / 60.0]), temperatures, resin.initial_degree_of_cure)[0][0]
        shares = (alpha - alpha[0]) / max(alpha[-1] - alpha[0], 1e-9)
        return [*(float(np.interp(share, shares, temperatures)) for share in MARKS), math.log(resin.heat_of_reaction / 1e3)]

    return components, ask, at[2] - ZERO, (at[-1] - start) / rate


def _viscosity(r: _Reading) -> Made:
    T = r.temperature("temperature", high=60.0)
    eta = r.f.number("viscosity_Pa_s", 1e-3, 1e4)

    def ask(resin: _core.Resin, _: float) -> list[float]:
        return [math.log(float(resin.viscosity(np.array([T]), np.array([resin.initial_degree_of_cure]))[0]))]

    return [Component("viscosity", math.log(eta), r.sd(0.12), "Pa s")], ask, T - ZERO, 10.0


def _doubling(r: _Reading) -> Made:
    T, minutes = r.temperature("temperature", high=60.0), r.time()
    t = _grid(2400.0 * minutes, 5.0)

    def ask(resin: _core.Resin, _: float) -> list[float]:
        alpha = np.minimum(resin.isothermal(np.array([T]), t, resin.initial_degree_of_cure)[0], resin.alpha_gel * (1.0 - 1e-9))
        fresh = resin.viscosity(np.array([T]), np.array([resin.initial_degree_of_cure]))
        times: Floats = resin.viscosity(np.full(t.size, T), alpha) / fresh
        return [time_to(times >= 2.0, t, times, 2.0)]

    return [Component("doubling of the viscosity", math.log(minutes), r.sd(0.15), "min")], ask, T - ZERO, minutes


def _cup(r: _Reading) -> Made:
    f = r.f
    mass = f.number("mass_g", 5.0, 20000.0) / 1e3
    air = r.temperature("air", -10.0, 45.0)
    log = _cup_log(f, r.beside) if f.has("log") else {}
    start = log.get("start", air) if not (f.has("start_C") or f.has("start_F")) else r.temperature("start", -10.0, 50.0)
    loss = CUPS[f.choice("cup", list(CUPS), default="plastic")] * (mass / 0.1) ** (2.0 / 3.0)
    marks: list[tuple[str, float, float]] = []  # what, target [K] or 0, minutes
    components = []
    # One lump stands for a cup: 8 % of a time, 8 K of a peak; probe and hand 6 % and 6 K (assumptions).
    if f.has("gel_min"):
        marks.append(("gel", 0.0, f.number("gel_min", 0.0, 1e5, above=True)))
    for mark in f.objects("reaches", 1, 10) if f.has("reaches") else ():
        reading = _Reading(mark, r.beside)
        marks.append(("reaches", reading.temperature("temperature", 0.0, 250.0), reading.time()))
        mark.finish()
    marks += [("reaches", T, minutes) for T, minutes in log.get("reaches", [])]
    components += [
        Component(what if target == 0.0 else f"reaches {target - ZERO:g} °C", math.log(minutes), r.sd(0.10), "min") for what, target, minutes in marks
    ]
    peak = r.temperature("peak", 0.0, 350.0) if f.has("peak_C") or f.has("peak_F") else log.get("peak")
    peak_min = f.number("peak_min", 0.0, 1e5, above=True) if f.has("peak_min") else log.get("peak_min")
    half_min = log.get("half_min")
    if peak is not None:
        components.append(Component("peak", peak, r.sd(10.0, "peak_sd"), "°C"))
    if peak_min is not None:
        components.append(Component("time of the peak", math.log(peak_min), r.sd(0.10), "min"))
    if half_min is not None:
        components.append(Component("cooled half way", math.log(half_min), r.sd(0.12), "min"))
    if not components:
        raise f.refuse_words("gel_min", "missing", "gel_min, peak_C, peak_min, reaches, or a log")
    longest = max([m for _, _, m in marks] + [m for m in (peak_min, half_min) if m is not None] or [120.0])
    t = np.concatenate([[1.0], _grid(150.0 * longest)])

    def ask(resin: _core.Resin, factor: float) -> list[float]:
        states = resin.lumped(np.array([start]), mass, 1.0, loss * factor, air, t, resin.initial_degree_of_cure)
        hot, alpha = states[0][0], states[1][0]
        found = [_crossing(t, alpha, resin.alpha_gel) if target == 0.0 else _crossing(t, hot, target) for _, target, _ in marks]
        top = int(hot.argmax())
        if peak is not None:
            found.append(float(hot[top]))
        if peak_min is not None:
            found.append(math.log(t[top] / 60.0))
        if half_min is not None:
            falling = hot[top:] <= air + 0.5 * (hot[top] - air)
            found.append(math.log(t[top + int(falling.argmax())] / 60.0) if falling.any() else NEVER)
        return found

    return components, ask, start - ZERO, longest


def _crossing(t: Floats, value: Floats, target: float) -> float:
    """ln of the first time [min] at a target."""
    at = np.flatnonzero(value >= target)
    if at.size == 0:
        return NEVER
    first = int(at[0])
    met = np.zeros(t.size, bool)
    met[first:] = True
    return time_to(met, t, value, target)


def _cup_log(f: Fields, beside: Path) -> dict[str, Any]:
    """What a log of a cup shows: its start, marks on the rise, the peak, and when half of the excess is lost."""
    path = beside / f.text("log")
    table = read_table(path, "a heading time_min,temperature_C and rows of numbers")
    columns = []
    for key in ("time_min", "temperature_C"):
        if key not in table.heading:
            raise input_error("heading", ", ".join(table.heading), "time_min and temperature_C", str(path))
        columns.append(np.array([table.number(row, table.heading.index(key)) for row in range(len(table.rows))]))
    good = np.isfinite(columns[0]) & np.isfinite(columns[1]) & (columns[0] >= 0.0)
    t, T = columns[0][good], columns[1][good] + ZERO
    if t.size < 5 or not (np.diff(t) > 0.0).all():
        raise input_error("rows", f"{t.size} of numbers", "5 or more, times rising", str(path))
    top = int(T.argmax())
    found: dict[str, Any] = {"start": float(T[0]), "peak": float(T[top]), "peak_min": float(max(t[top], 0.1))}
    rise = T[top] - T[0]
    if rise < 3.0:
        raise input_error("temperature_C", f"rises by {rise:.1f} K", "a rise of 3 K or more: else the log says nothing of the cure", str(path))
    targets = [T[0] + rise * share for share in (0.25, 0.5)]
    found["reaches"] = [(float(target), float(max(np.interp(target, T[: top + 1], t[: top + 1]), 0.1))) for target in targets]
    low = T[top] - 0.5 * rise
    after = np.flatnonzero(T[top:] <= low)
    if after.size:
        found["half_min"] = float(t[top + int(after[0])])
    return found


KINDS: Mapping[str, Callable[[_Reading], Made]] = MappingProxyType({
    "film_gel": _film_gel, "cup": _cup, "releasable": _releasable, "Tg": _tg, "Tg_full": _tg_full, "conversion": _conversion,
    "residual_heat": _residual_heat, "heat": _heat, "peak": _peak, "ramp": _ramp, "viscosity": _viscosity, "doubling": _doubling,
})  # fmt: skip
NEEDS_VISCOSITY = ("viscosity", "doubling")


def read_measurement(fields: Fields, number: int, beside: Path) -> Measurement:
    """Reads one measurement.

    Args:
        fields: its object.
        number: its place, from 1, for its name.
        beside: folder that logs are named from.

    Raises:
        CureError: a kind, key or value that cannot be.
    """
    kind = fields.choice("kind", list(KINDS))
    components, ask, T, cost = KINDS[kind](_Reading(fields, beside))
    name = fields.text("name", default=f"{number}. {kind.replace('_', ' ')}" + ("" if math.isnan(T) else f" at {T:g} °C"))
    hold_back = fields.flag("hold_back", default=False)
    cup = fields.choice("cup", list(CUPS), default="plastic") if kind == "cup" else ""
    fields.finish()
    return Measurement(name, kind, tuple(components), ask, hold_back, cup, T, cost)
