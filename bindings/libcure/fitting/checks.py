"""What records and runs are checked for: faults that forbid a fit are errors, what may mislead it is found and said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.errors import CureError, input_error
from libcure.fitting.record import ZERO_CELSIUS, Record
from libcure.fitting.run import Finding, Run, processed, smooth, trapezia

__all__ = ["check_numbers", "check_part", "check_signal", "compare_heats", "outliers", "peaks_above"]

Array = NDArray[np.float64]
SATURATED_POINTS = 6  # equal neighbours at the very top; noise never gives that
# What instruments of any kind show; common practice, no source.
LONGEST, MEASURED, LARGEST = (-1e9, 1e9), (-200.0, 2000.0), (-1e9, 1e9)  # s, °C, any unit of heat flow
FAR_OFF = 2.0  # times the reach of all other values
DEAD_ROWS, DEAD_JUMP = 2, 0.05  # zeros in a row, and share of the signal's reach that they jump
GAP = 10.0  # times the usual step
RATE_TOLERANCE = 0.05  # of a stated heating rate
TELLS, BEYOND = 0.015, 4.0  # heat share or degree of cure, and standard deviations, from which baselines are said to differ
FALLS, ABOVE_ONE = 0.02, 0.05  # degree of cure that is no cure's; mass errors of a few per cent are usual, no source
HEAT_TOLERANCE = 0.08  # between runs of one resin, four times the usual error of a mass; common practice, no source


def check_numbers(where: str, record: Record) -> None:
    """Refuses numbers that no instrument measures: codes for missing values, such as -9999, and zeros of a dead channel.

    Raises:
        CureError: with row and time of the first.
    """
    T = record.temperature - ZERO_CELSIUS
    for name, values, unit, (low, high) in (("time", record.time, "s", LONGEST), ("temperature", T, "°C", MEASURED),
                                            ("heat flow", record.heat_flow, record.heat_flow_unit, LARGEST)):
        bad = np.flatnonzero(~((values >= low) & (values <= high)))
        if len(bad):
            raise _no_reading(where, name, record, bad, f"{values[bad[0]]:g} {unit}", f"{low:g} to {high:g} {unit}")
    for name, values, unit in (("temperature", T, "°C"), ("heat flow", record.heat_flow, record.heat_flow_unit)):
        far = _far_off(values)
        if len(far):
            raise _no_reading(where, name, record, far, f"{values[far[0]]:g} {unit}",
                              f"numbers near those of the other rows ({np.delete(values, far).min():g} to {np.delete(values, far).max():g} {unit})")
        dead = _dead(values)
        if len(dead):
            raise _no_reading(where, name, record, dead, f"exactly 0 {unit}", "what was measured")


def _no_reading(where: str, name: str, record: Record, rows: NDArray[np.intp], value: str, allowed: str) -> CureError:
    times = f"{len(rows)} row{'s' * (len(rows) > 1)}, the first at {record.time[rows[0]]:g} s"
    return input_error(f"{where}: {name}", f"{value} ({times})", f"{allowed}; leave out rows in which nothing was measured", record.file)


def _far_off(values: Array) -> NDArray[np.intp]:
    """Rows of one extreme value, such as a code for a missing one, that stands off twice as far as all others reach.

    Not the first row alone: a signal that settles begins there.
    """
    for extreme in (float(np.min(values)), float(np.max(values))):
        rows = np.flatnonzero(values == extreme)
        others = np.delete(values, rows)
        if len(others) and rows[-1] > 0:
            gap = float(np.min(np.abs(others - extreme)))
            if gap > FAR_OFF * float(np.ptp(others)):
                return rows
    return np.empty(0, np.intp)


def _dead(values: Array) -> NDArray[np.intp]:
    """Rows of exact zeros that the signal does not lead to: it jumps there and back."""
    zero = np.flatnonzero(np.abs(values) < 1e-9 * max(float(np.ptp(values)), 1e-12))
    jump = DEAD_JUMP * float(np.ptp(values))
    for run in np.split(zero, np.flatnonzero(np.diff(zero) > 1) + 1):
        if len(run) < DEAD_ROWS or run[0] == 0 or run[-1] == len(values) - 1:
            continue
        if min(abs(values[run[0] - 1]), abs(values[run[-1] + 1])) > jump:
            return np.asarray(run)
    return np.empty(0, np.intp)


def check_signal(where: str, record: Record, q: Mapping[str, Any]) -> None:
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


def check_part(run: Run, record: Record, q: Mapping[str, float], stated: float | None,
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
    if run.truncated:
        findings += _impossible(run, where)
        return
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
    even = smooth(run.rate, width)
    noise = run.noise / (run.total_heat or run.heat) / np.sqrt(width)
    peaks = peaks_above(even, max(0.08 * height, 6.0 * noise))
    if run.dynamic and len(peaks) > 1:
        places = ", ".join(f"{run.T[p] - ZERO_CELSIUS:.0f}" for p in peaks)
        findings.append(Finding("warning", "two_exotherms", where,
                                f"{len(peaks)} exotherms, at {places} °C. One reaction cannot draw them: peak methods "
                                "use the higher one only, and a law of one reaction will miss. Try the law parallel."))
    noise_share = run.noise / (height * (run.total_heat or run.heat))
    if noise_share > 0.05:
        findings.append(Finding("warning", "noisy", where, f"noise is {100 * noise_share:.0f} % of the peak."))


def peaks_above(x: Array, least: float) -> list[int]:
    """Places of peaks that rise so much above what parts them from a higher one and from the ends: those of prominence ``least`` or more.

    SciPy's search for them takes longer to load than a report to draw.
    """
    found: list[int] = []
    low, top = float(x[0]), -1  # since the last peak; the place of the highest since then, once it stands out
    for i, v in enumerate(map(float, x)):
        if (top >= 0 and v > x[top]) or (top < 0 and v - low >= least):
            top = i
        elif top >= 0 and x[top] - v >= least:
            found.append(top)
            low, top = v, -1
        elif top < 0:
            low = min(low, v)
    return found


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
        sigmoidal = processed(replace(run, baseline="tangential-sigmoidal"))
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


def _usual_heat(runs: Sequence[Run]) -> float:
    """Median of the ramps' heats; NaN of none."""
    heats = [run.heat for run in runs if run.dynamic and not run.truncated]
    return float(np.median(heats)) if heats else float("nan")


def outliers(runs: Sequence[Run]) -> list[str]:
    """Ids of ramps whose heat stands out."""
    ramps = [run for run in runs if run.dynamic and not run.truncated]
    if len(ramps) < 3:
        return []
    middle = _usual_heat(ramps)
    return [run.id for run in ramps if abs(run.heat / middle - 1.0) > HEAT_TOLERANCE]


def compare_heats(runs: Sequence[Run]) -> list[Finding]:
    """Warnings for ramps whose heat stands out: a wrong mass, or a part of the reaction outside the record."""
    odd, middle = outliers(runs), _usual_heat(runs)
    out = []
    for run in runs:
        if run.id in odd:
            out.append(Finding("warning", "heat_differs", f"run {run.id}",
                               f"heat {run.heat / 1e3:.0f} J/g, {run.heat / middle:.2f} times the ramps' median of "
                               f"{middle / 1e3:.0f} J/g. Is the sample mass right? The run is left out of the heat of "
                               "reaction; its degree of cure, counted on its own heat, is kept."))
    return out
