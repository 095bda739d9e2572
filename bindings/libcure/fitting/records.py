"""Runs of a calorimeter: records checked, with baseline and degree of cure. Inside everything is SI."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.signal import find_peaks

from libcure import _core, rendering
from libcure.errors import CureError, input_error
from libcure.fitting.record import PROGRAMMED, ZERO_CELSIUS, Record

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["BASELINES", "Finding", "Run", "analyse", "compare_heats"]

Array = NDArray[np.float64]
BASELINES = ("tangential-sigmoidal", "linear", "spline", "level")
SATURATED_POINTS = 6  # equal neighbours at the very top; noise never gives that
GAP = 10.0  # times the usual step
RATE_TOLERANCE = 0.05  # of a stated heating rate
TELLS, BEYOND = 0.015, 4.0  # heat share or degree of cure, and standard deviations, from which baselines are said to differ
FALLS, ABOVE_ONE = 0.02, 0.05  # degree of cure that is no cure's; mass errors of a few per cent are usual, no source
HEAT_TOLERANCE = 0.15  # between runs of one resin; common practice, no source

SETTLING = 30.0  # s that an instrument's signal takes after the temperature has settled; common practice, no source

Severity = Literal["warning", "note"]


@dataclass(frozen=True)
class Finding:
    """A plain statement about the data or the fit. What forbids a fit is an error instead."""

    severity: Severity
    code: str
    about: str
    """A run, a law, or empty."""
    message: str

    def __str__(self) -> str:
        return f"{self.about}: {self.message}" if self.about else self.message


@dataclass
class Run:
    """A run after its baseline; everything a fit or a figure needs."""

    id: str
    time: Array
    """(n,) of the whole record [s]"""
    temperature: Array
    """(n,) [K]"""
    heat_flow: Array
    """(n,) exothermic, upwards [W/kg]"""
    heating_rate: float
    """[K/s]; 0 for an isothermal run."""
    baseline: str
    windows: tuple[float, float, float, float]
    """Ends of the left and of the right window [s]."""
    part: slice
    """The points between the outer ends of the windows."""
    heat: float
    """Above the baseline [J/kg]."""
    total_heat: float | None
    """Heat that alpha is counted on when it is not the run's own [J/kg]."""
    rate: Array
    """(part,) d(alpha)/dt [1/s]"""
    alpha: Array
    """(part,) [-]"""
    basis: Array
    """(part, 4) of the baseline."""
    functionals: Array
    """(4, part): means and slopes of the windows."""
    noise: float
    """Standard deviation of the white noise in ``heat_flow`` [W/kg]."""
    programme_tolerance: float
    """How far the temperature may stray from its piecewise linear programme [K]."""
    findings: list[Finding] = field(default_factory=list)
    on_ramps: bool = False
    """``total_heat`` is that of the ramps, as a law completes it."""

    @property
    def dynamic(self) -> bool:
        return self.heating_rate > 0.0

    @property
    def t(self) -> Array:
        """(part,) [s]"""
        return self.time[self.part]

    @property
    def T(self) -> Array:
        """(part,) [K]"""
        return self.temperature[self.part]

    @property
    def drawn_baseline(self) -> Array:
        """(part,) [W/kg]"""
        return np.asarray(self.basis @ (self.functionals @ self.heat_flow[self.part]))

    @property
    def peak(self) -> float:
        """Temperature of the greatest rate [K], by a parabola through the points above 95 % of it."""
        smooth = _smooth(self.rate, max(len(self.rate) // 200, 1))
        top = int(np.argmax(smooth))
        near = np.flatnonzero(smooth > 0.95 * smooth[top])
        near = near[(near >= top - len(self.rate) // 20) & (near <= top + len(self.rate) // 20)]
        if len(near) < 5:
            return float(self.T[top])
        a, b, _ = np.polyfit(self.T[near] - self.T[top], self.rate[near], 2)
        return float(self.T[top] - b / (2.0 * a)) if a < 0.0 else float(self.T[top])

    def to_dataframe(self) -> pd.DataFrame:
        """The whole record in rows; baseline, rate and degree of cure where they are drawn, NaN elsewhere."""
        import pandas as pd

        def placed(part: Array) -> Array:
            found = np.full(len(self.time), np.nan)
            found[self.part] = part
            return found

        return pd.DataFrame({
            "time_min": self.time / 60.0, "temperature_C": self.temperature - ZERO_CELSIUS, "heat_flow_W_g": self.heat_flow / 1e3,
            "baseline_W_g": placed(self.drawn_baseline / 1e3), "rate_1_s": placed(self.rate), "alpha": placed(self.alpha),
        })  # fmt: skip

    def plot(self, path: str | os.PathLike[str] | None = None) -> Figure:
        """The record with its baseline; with a path also written (.png, .svg, .pdf)."""
        return rendering.draw_to(self, path)

    @property
    def programme(self) -> str:
        """How it was heated, in words."""
        return f"{60.0 * self.heating_rate:.4g} K/min" if self.dynamic else "isothermal"

    def __repr__(self) -> str:
        return f"<Run {self.id!r}: {self.programme}, {len(self.t)} of {len(self.time)} points, {self.heat / 1e3:.1f} J/g>"

    def _repr_html_(self) -> str:
        return rendering.html(self)

    def thinned(self, points: int) -> Run:
        """The run with blocks of points averaged to about so many; the windows stay where they are."""
        block = max(len(self.t) // points, 1)
        if block == 1:
            return self

        def mean(x: Array) -> Array:
            n = len(x) // block
            return np.asarray(x[: n * block].reshape(n, block).mean(axis=1))

        time, temperature, heat_flow = mean(self.time), mean(self.temperature), mean(self.heat_flow)
        # The programme must still begin and end where the record does.
        time[0], temperature[0] = self.time[0], self.temperature[0]
        time[-1], temperature[-1] = self.time[-1], self.temperature[-1]
        return _process(replace(self, time=time, temperature=temperature, heat_flow=heat_flow,
                                noise=self.noise / np.sqrt(block)))


def _smooth(x: Array, width: int) -> Array:
    width = 2 * (width // 2) + 1
    padded = np.pad(x, width // 2, mode="edge")
    return np.convolve(padded, np.ones(width) / width, mode="valid")


def _process(run: Run) -> Run:
    """The run with its baseline drawn, from its windows."""
    w = run.windows
    first = int(np.searchsorted(run.time, w[0]))
    last = int(np.searchsorted(run.time, w[3], side="right"))
    part = slice(first, last)
    r = _core.fit.subtract_baseline(run.baseline, run.time[part], run.heat_flow[part], w)
    on = run.total_heat if run.total_heat is not None else r["heat"]
    return replace(run, part=part, heat=r["heat"], rate=r["heat_flow"] / on, alpha=r["released"] / on, basis=r["basis"],
                   functionals=r["functionals"])


def _end_to_end(time: Array, signal: Array) -> Array:
    """A straight line through the middles of the first and of the last fiftieth of a record."""
    few = len(time) // 50 + 2
    begin, end = (np.median(time[part]) for part in (slice(few), slice(-few, None)))
    first, last = (np.median(signal[part]) for part in (slice(few), slice(-few, None)))
    return np.asarray(first + (last - first) / (end - begin) * (time - begin))


def _points_down(time: Array, signal: Array) -> bool:
    """Whether a record dips below both its ends further than it rises above both."""
    smooth = _smooth(signal, max(len(time) // 200, 3))
    ends = _end_to_end(time, signal)[[0, -1]]
    dip, rise = float(ends.min() - smooth.min()), float(smooth.max() - ends.max())
    return dip > 1.5 * rise and dip > 0.2 * float(np.ptp(smooth))


def _find_windows(id: str, time: Array, signal: Array, noise: float,
                  sides: Sequence[str] = ("left", "right")) -> dict[str, tuple[float, float]]:
    """Straight pieces before (left) and after (right) the exotherm, of the sides asked for.

    Raises:
        CureError: the signal is not straight anywhere there.
    """
    n = len(time)
    smooth = _smooth(signal, max(n // 200, 3))
    above = smooth - _end_to_end(time, signal)
    top = int(np.argmax(above))
    height = float(above[top])
    threshold = max(0.01 * height, 4.0 * noise / np.sqrt(max(n // 200, 3)))
    before = np.flatnonzero(above[:top] < threshold)
    after = np.flatnonzero(above[top:] < threshold)
    on = time[before[-1]] if len(before) else time[0]
    off = time[top + after[0]] if len(after) else time[-1]
    span = time[-1] - time[0]
    where = f"run {id}: baseline"
    if "left" in sides and (on - time[0] < 0.03 * span or top < n // 50):
        raise input_error(where, "no straight signal before the exotherm",
                          "a record that begins well below the reaction; start the ramp colder, or give left_C")
    if "right" in sides and (time[-1] - off < 0.03 * span or top > n - n // 50):
        raise input_error(where, "no straight signal after the exotherm",
                          "a record that ends well past the reaction; ramp to a higher temperature, or give right_C")
    lead, tail = on - time[0], time[-1] - off
    return {"left": (time[0] + 0.05 * lead, time[0] + 0.8 * lead), "right": (off + 0.2 * tail, off + 0.98 * tail)}


def analyse(
    record: Record,
    id: str,
    *,
    mass_kg: float | None = None,
    exotherm_up: bool = True,
    heating_rate: float | None = None,
    isothermal: float | None = None,
    baseline: str | None = None,
    left: tuple[float, float] | None = None,
    right: tuple[float, float] | None = None,
    begin: float | None = None,
    end: float | None = None,
    total_heat: float | None = None,
    residual_heat: float | None = None,
) -> Run:
    """Checks a record, draws its baseline, and counts heat and degree of cure.

    Args:
        mass_kg: of the sample; needed when the heat flow is not a mass already.
        exotherm_up: how the instrument recorded it.
        heating_rate: as stated [K/s]; checked against the data. isothermal: as stated [K]. One of both.
        baseline: one of :data:`BASELINES`; by default tangential-sigmoidal, and level when isothermal.
        left, right: windows where the signal is straight, as temperatures [K]; found when left out.
        begin, end: of an isothermal run [s]; begin by default when the temperature has settled.
        total_heat: [J/kg] that an isothermal run's degree of cure is counted on.
        residual_heat: [J/kg] found in a ramp after an isothermal run; total is then its own heat and this.

    Raises:
        CureError: unsorted time, a gap in the exotherm, a saturated signal, a wrong sign, a wrong
            heating rate, no baseline: what makes the degree of cure wrong.
    """
    where = f"run {id}"
    if (heating_rate is None) == (isothermal is None):
        raise input_error(where, "both or neither of heating rate and isothermal temperature", "one of them")
    name = baseline or ("tangential-sigmoidal" if isothermal is None else "level")
    if name not in BASELINES:
        raise input_error(f"{where}: baseline", f'"{name}"', f"one of {', '.join(BASELINES)}")
    time, T = record.time, record.temperature
    signal = record.heat_flow * _core.fit.heat_flow_factor(record.heat_flow_unit, mass_kg or 0.0, exotherm_up)
    q = _core.fit.quality(time, T, signal)
    _check_signal(where, record, q)
    findings = [Finding("note", "left_out", where, text) for text in record.left_out]
    if record.programmed:
        findings.append(Finding("warning", "programme_temperature", where, PROGRAMMED))
    if isothermal is None:
        windows = _ramp_windows(id, record, signal, q["noise"], left, right, exotherm_up)
    else:
        windows = _held_windows(where, record, isothermal, begin, end)
    run = Run(id, time, T, signal, heating_rate or 0.0, name, windows, slice(0, len(time)), 0.0, total_heat,
              np.empty(0), np.empty(0), np.empty((0, 4)), np.empty((4, 0)), q["noise"],
              max(0.1, 3.0 * _noise(T)), findings)
    run = _counted(run, where, exotherm_up, record.file)
    if residual_heat is not None:
        run = _process(replace(run, total_heat=run.heat + residual_heat))
    _check_part(run, record, q, heating_rate, findings)
    return run


Windows = tuple[float, float, float, float]


def _check_signal(where: str, record: Record, q: Mapping[str, Any]) -> None:
    """Refuses times that do not rise and a signal cut off at the top; ``q`` is the record's quality."""
    time = record.time
    if q["first_unsorted"]:
        i = q["first_unsorted"]
        raise input_error(f"{where}: time", f"{time[i]:g} s after {time[i - 1]:g} s in row {i + 1}",
                          "times that rise; sort the rows, or cut the record where it starts again", record.file)
    if q["flat_top"] >= SATURATED_POINTS:
        raise input_error(f"{where}: heat flow", f"the greatest value {q['flat_top']} times in a row from "
                          f"{q['flat_top_at']:g} s on: the signal is saturated", "a whole peak; weigh in less sample",
                          record.file)


def _ramp_windows(id: str, record: Record, signal: Array, noise: float, left: tuple[float, float] | None,
                  right: tuple[float, float] | None, exotherm_up: bool) -> Windows:
    """Times [s] of the straight parts of a ramp: as given by temperatures [K], else found.

    Raises:
        CureError: a window outside the record or on the wrong side of the other, or none found.
    """
    time, T = record.time, record.temperature
    low, high = float(T.min()), float(T.max())
    sides: dict[str, tuple[float, float]] = {}
    for side, window in (("left", left), ("right", right)):
        if window is None:
            continue
        begin, end = window
        if begin < low - 0.5 or end > high + 0.5:  # K, as a window that ends where the programme does
            raise _wrong_window(id, side, window, f"within the record, {low - ZERO_CELSIUS:.1f} to {high - ZERO_CELSIUS:.1f}", record.file)
        sides[side] = float(np.interp(begin, T, time)), float(np.interp(end, T, time))
    wanted = [side for side in ("left", "right") if side not in sides]
    if wanted:
        if _points_down(time, signal):
            raise _wrong_sign(f"run {id}", exotherm_up, record.file)
        found = _find_windows(id, time, signal, noise, wanted)
        sides |= {side: found[side] for side in wanted}
    if not sides["left"][1] < sides["right"][0]:
        ends = float(np.interp(sides["left"][1], time, T)) - ZERO_CELSIUS
        starts = float(np.interp(sides["right"][0], time, T)) - ZERO_CELSIUS
        if right is not None:
            raise _wrong_window(id, "right", right, f"above the left window, which ends at {ends:.1f}", record.file)
        raise _wrong_window(id, "left", left or (0.0, 0.0), f"below the right window, which begins at {starts:.1f}", record.file)
    return (*sides["left"], *sides["right"])


def _wrong_window(id: str, side: str, window: tuple[float, float], allowed: str, file: str) -> CureError:
    low, high = (f"{value - ZERO_CELSIUS:g}" for value in window)
    return input_error(f"run {id}: baseline.{side}_C", f"[{low}, {high}]", allowed, file)


def _held_windows(where: str, record: Record, isothermal: float, begin: float | None, end: float | None) -> Windows:
    """Times [s] of the straight parts of an isothermal run: its beginning once the temperature has settled, and its end."""
    time = record.time
    settled = np.flatnonzero(np.abs(record.temperature - isothermal) > 1.0)
    if begin is None:
        begin = float(time[min(int(settled[-1]) + 1, len(time) - 1)]) + SETTLING if len(settled) else float(time[0])
    end = float(time[-1]) if end is None else end
    if end - begin < 0.2 * (time[-1] - time[0]):
        raise input_error(f"{where}: isothermal_C", f"{isothermal - ZERO_CELSIUS:g}",
                          "the temperature that the record holds for most of its time", record.file)
    return begin, begin + 0.02 * (end - begin), end - 0.1 * (end - begin), end


def _counted(run: Run, where: str, exotherm_up: bool, file: str) -> Run:
    """The run with heat and degree of cure; what the core refuses is named by its run and file."""
    try:
        return _process(run)
    except CureError as error:
        if getattr(error, "field", "") == "heat of reaction":
            raise _wrong_sign(where, exotherm_up, file) from None
        raise input_error(f"{where}: {getattr(error, 'field', 'baseline')}", getattr(error, "value", str(error)),
                          getattr(error, "allowed", ""), file) from None


def _noise(x: Array) -> float:
    return float(1.4826 * np.median(np.abs(np.diff(x, 2))) / np.sqrt(6.0))


def _wrong_sign(where: str, exotherm_up: bool, file: str) -> CureError:
    said = "up" if exotherm_up else "down"
    return input_error(f"{where}: exotherm", f'"{said}", but the peak points the other way',
                       f'"{"down" if exotherm_up else "up"}", or the other baseline windows', file)


def _check_part(run: Run, record: Record, q: Mapping[str, float], stated: float | None,
                findings: list[Finding]) -> None:
    where, t = f"run {run.id}", run.t
    height = float(np.max(run.rate))
    steps = np.diff(t)
    worst = int(np.argmax(steps))
    if steps[worst] > GAP * q["median_step"]:
        # What a straight line across the gap cannot know: the corner between its two sides, at most.
        share = steps[worst] * abs(run.rate[worst + 1] - run.rate[worst]) + 0.5 * steps[worst] * max(
            run.rate[worst], run.rate[worst + 1])
        text = f"{steps[worst]:.0f} s without data from {t[worst]:.0f} s on"
        if share > 0.02:
            raise input_error(f"{where}: time", text, "no gap inside the exotherm", record.file)
        findings.append(Finding("warning", "gap", where, f"{text}, outside the exotherm's steep part."))
    if stated is not None:
        measured = _core.fit.quality(t, run.T, run.heat_flow[run.part])["heating_rate"]
        if abs(measured / stated - 1.0) > RATE_TOLERANCE:
            raise input_error(f"{where}: heating_rate_K_min", f"{60 * stated:g}",
                              f"{60 * measured:.3g}, as the temperatures of the record rise", record.file)
    misled = _linear_baseline(run)
    if misled is not None:
        findings.append(Finding("warning", "linear_baseline", where, misled))
    elif run.baseline != "level":
        e = run.functionals @ run.heat_flow[run.part]
        w = run.windows
        line = (e[2] - e[0]) / max(0.5 * (w[2] + w[3] - w[0] - w[1]), 1e-9)
        top = height * (run.total_heat or run.heat)
        for side, slope, length in (("before", e[1], w[1] - w[0]), ("after", e[3], w[3] - w[2])):
            error = 3.5 * run.noise / np.sqrt(max(length / q["median_step"], 3.0))
            if abs(slope - line) * length > 0.05 * top + 2.0 * error:
                findings.append(Finding("warning", "curved_baseline", where,
                                        f"the signal {side} the exotherm is not straight within its window: the heat "
                                        "may be off. Ramp further out, or give the window."))
    else:
        last = run.rate[-len(run.rate) // 10 :]
        half = len(last) // 2
        drop = float(np.mean(last[:half]) - np.mean(last[half:]))
        if drop > 0.02 * height:
            findings.append(Finding("warning", "not_ended", where,
                                    "the isothermal run was stopped before the signal was level: its heat is too "
                                    "low. Record it for longer."))
    findings += _impossible(run, where)
    width = max(len(run.rate) // 60, 5)
    smooth = _smooth(run.rate, width)
    noise = run.noise / (run.total_heat or run.heat) / np.sqrt(width)
    peaks, _ = find_peaks(smooth, prominence=max(0.08 * height, 6.0 * noise))
    if run.dynamic and len(peaks) > 1:
        places = ", ".join(f"{run.T[p] - ZERO_CELSIUS:.0f}" for p in peaks)
        findings.append(Finding("warning", "two_exotherms", where,
                                f"{len(peaks)} exotherms, at {places} °C. One reaction cannot draw them: peak methods "
                                "use the higher one only, and a law of one reaction will miss. Try the law parallel."))
    noise_share = run.noise / (height * (run.total_heat or run.heat))
    if noise_share > 0.05:
        findings.append(Finding("warning", "noisy", where, f"noise is {100 * noise_share:.0f} % of the peak."))


def trapezia(run: Run) -> Array:
    """(points,) weights of an integral over time [s]"""
    steps = np.diff(run.t)
    ends = np.zeros(len(run.t))
    ends[:-1] += 0.5 * steps
    ends[1:] += 0.5 * steps
    return ends


def _impossible(run: Run, where: str) -> list[Finding]:
    """Degrees of cure that no resin has: above 1, or falling."""
    area = trapezia(run)
    on = run.total_heat or run.heat
    # White noise of the running integral and of the baseline's heat.
    noise = run.noise / on * float(np.linalg.norm(area) + np.linalg.norm(area @ run.basis @ run.functionals))
    out = []
    most = float(np.max(run.alpha))
    if most > 1.0 + max(ABOVE_ONE, BEYOND * noise):
        out.append(Finding("warning", "alpha_above_one", where, f"the degree of cure goes up to {most:.2f}, and 1 is all "
                           "there is: sample mass, baseline or the heat that it counts on is wrong."))
    lost = np.maximum.accumulate(run.alpha) - run.alpha
    worst = int(np.argmax(lost))
    if lost[worst] > max(FALLS, BEYOND * noise):
        out.append(Finding("warning", "alpha_falls", where, f"the degree of cure falls by {lost[worst]:.2f} until "
                           f"{run.t[worst] / 60.0:.0f} min, which no cure does: the baseline drifts, or lies too high."))
    return out


def _linear_baseline(run: Run) -> str | None:
    """Why a linear baseline is wrong for a run, if it is: heat or degree of cure differ from the sigmoidal one's beyond
    noise."""
    if run.baseline != "linear":
        return None
    try:
        sigmoidal = _process(replace(run, baseline="tangential-sigmoidal"))
    except CureError:
        return None  # tangents of a noisy signal may leave no heat at all
    area = trapezia(run)
    worst = int(np.argmax(np.abs(sigmoidal.alpha - run.alpha)))
    heat, cure = sigmoidal.heat - run.heat, float(sigmoidal.alpha[worst] - run.alpha[worst])
    # Both baselines are sums over the same signal, so a difference has the noise of the difference of weights.
    until = np.where(np.arange(len(area)) <= worst, area, 0.0)

    def noise(weights: Array) -> float:
        return run.noise * float(np.linalg.norm((weights @ (sigmoidal.basis - run.basis)) @ run.functionals))

    tells = [abs(heat) > max(TELLS * run.heat, BEYOND * noise(area)),
             abs(cure) > max(TELLS, BEYOND * noise(until - run.alpha[worst] * area) / run.heat)]
    if not any(tells):
        return None
    return (f"a linear baseline gives {run.heat / 1e3:.1f} J/g, a tangential-sigmoidal one {sigmoidal.heat / 1e3:.1f} J/g, "
            f"and degrees of cure up to {abs(cure):.3f} apart, more than noise explains: the signal has another level or "
            "slope after the exotherm than before it, as a heat capacity that changes with cure makes it. Use "
            "tangential-sigmoidal.")


def recounted(run: Run, heat: float) -> Run:
    """A run that counts on the ramps' heat, with that heat [J/kg]; other runs as they are."""
    return _process(replace(run, total_heat=heat)) if run.on_ramps else run


def reprocessed(run: Run, heat_flow: Array) -> Run:
    """The run with another heat flow [W/kg]: its baseline drawn and its heat counted again."""
    return _process(replace(run, heat_flow=heat_flow))


def outliers(runs: Sequence[Run]) -> list[str]:
    """Ids of ramps whose heat stands out."""
    ramps = [run for run in runs if run.dynamic]
    if len(ramps) < 3:
        return []
    middle = float(np.median([run.heat for run in ramps]))
    return [run.id for run in ramps if abs(run.heat / middle - 1.0) > HEAT_TOLERANCE]


def compare_heats(runs: Sequence[Run]) -> list[Finding]:
    """Warnings for ramps whose heat stands out: a wrong mass, or a part of the reaction outside the record."""
    odd = outliers(runs)
    out = []
    for run in runs:
        if run.id in odd:
            middle = float(np.median([other.heat for other in runs if other.dynamic]))
            out.append(Finding("warning", "heat_differs", f"run {run.id}",
                               f"heat {run.heat / 1e3:.0f} J/g, {run.heat / middle:.2f} times the ramps' median of "
                               f"{middle / 1e3:.0f} J/g. Is the sample mass right? The run is left out of the heat of "
                               "reaction; its degree of cure, counted on its own heat, is kept."))
    return out


def celsius(window: ArrayLike) -> tuple[float, float]:
    """A window given in °C, in K."""
    low, high = np.asarray(window, float) + ZERO_CELSIUS
    return float(low), float(high)


def file_beside(path: str, beside: Path) -> Path:
    """A file named in a document, relative to it."""
    return Path(path) if Path(path).is_absolute() else beside / path
