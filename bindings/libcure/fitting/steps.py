"""Steps of the heat capacity before the exotherm of a ramp, as a glass transition makes them.

The signal before the exotherm is fitted twice, without and with a step of its level (tanh over a few kelvins): a straight line, and the
exotherm's begin as an exponential of temperature, which is what an Arrhenius rate is over few kelvins. A step that takes heat up lowers an
exothermic signal, and no begin of an exotherm does that. Limits are this project's own choice, set on synthetic records without a step
(tests/python/test_fit_steps.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.fitting.record import ZERO_CELSIUS
from libcure.fitting.run import Finding, Run, smooth, trapezia

__all__ = ["Step", "capacity_step", "step_findings"]

Array = NDArray[np.float64]
BEGUN = 0.06  # of the peak, up to which the begin of an exotherm is looked at
POINTS = 200  # that the signal there is averaged to
PLACES = 40  # that are tried
EDGE = 4.0  # K from the ends of what is looked at
WIDTHS, RISES = (2.0, 5.0), (5.0, 9.0, 15.0)  # K, of the step and of the exponential
SURE = 5.0  # standard errors from which a step is said
LEAST_EFFECT = 0.02  # of the heat, from which it is
TOGETHER = 10.0  # K, within which steps are one


@dataclass(frozen=True)
class Step:
    """What the signal of a ramp does before its exotherm."""

    temperature: float
    """Of its middle [K]"""
    width: float
    """[K]"""
    capacity: float
    """[J/kg/K]"""
    error: float
    """Standard error, widened by what the fit with the step misses [J/kg/K]"""


def capacity_step(run: Run) -> Step | None:
    """The step that describes the signal before a ramp's exotherm best; None where too little of it is recorded."""
    even = smooth(run.rate, max(len(run.rate) // 200, 3))
    top = int(np.argmax(even))
    low = np.flatnonzero(even[:top] < BEGUN * even[top])
    if not run.dynamic or run.truncated == "start" or not len(low):
        return None
    end = int(low[-1]) + 1
    block = max(end // POINTS, 1)
    count = end // block
    T, q = (x[: count * block].reshape(count, block).mean(axis=1) for x in (run.T, run.heat_flow[run.part]))
    if count < 3 * len(WIDTHS) + 10 or T[-1] - T[0] < 4.0 * EDGE:
        return None
    lines = [np.column_stack([np.ones(count), T - T[0], np.exp((T - T[-1]) / rise)]) for rise in RISES]
    best: tuple[float, float, float, Array, Array] | None = None
    for place in np.linspace(T[0] + EDGE, T[-1] - EDGE, PLACES):
        for width in WIDTHS:
            step = 0.5 * (1.0 + np.tanh((T - place) / width))
            for line in lines:
                matrix = np.column_stack([step, line])
                x, left, rank, _ = np.linalg.lstsq(matrix, q, rcond=None)
                if rank == 4 and x[3] >= 0.0 and len(left) and (best is None or left[0] < best[0]):
                    best = float(left[0]), float(place), width, x, matrix
    if best is None:
        return None
    left, place, width, x, matrix = best
    noise = max(np.sqrt(left / (count - 6)), run.noise / np.sqrt(block))
    error = noise * float(np.sqrt(np.linalg.inv(matrix.T @ matrix)[0, 0]))
    return Step(place, width, -float(x[0]) / run.heating_rate, error / run.heating_rate)


def step_findings(runs: Sequence[Run]) -> list[Finding]:
    """What steps before the exotherms of ramps do to their heats, where that matters.

    One resin has one glass transition: with several ramps, a step is said only where two of them or more show it at one temperature.
    """
    ramps = [run for run in runs if run.dynamic]
    found = [(run, step) for run in ramps if (step := capacity_step(run)) is not None and step.capacity > SURE * step.error
             and abs(_effect(run, step)) > LEAST_EFFECT]
    groups = [[(run, step) for run, step in found if abs(step.temperature - at.temperature) <= TOGETHER] for _, at in found]
    shown = max(groups, key=len, default=[])
    if not shown or len(shown) < min(2, len(ramps)):
        return []
    worst, step = max(shown, key=lambda pair: abs(_effect(*pair)))
    at = float(np.median([one.temperature for _, one in shown])) - ZERO_CELSIUS
    clear = max(one.temperature + 2.0 * one.width for _, one in shown) - ZERO_CELSIUS
    runs_said = f"{'the run' if len(shown) == 1 else 'runs'} {', '.join(run.id for run, _ in shown)}"
    signal = max(one.capacity * run.heating_rate for run, one in shown)
    capacity = float(np.median([one.capacity for _, one in shown])) / 1e3
    return [Finding("warning", "capacity_step", "heat", (
        f"before the exotherm, near {at:.0f} °C, the signal of {runs_said} steps by up to {signal:.0f} W/kg ({capacity:.1f} J/(g K)), as a glass "
        f"transition makes it: the baseline is not the same on both sides, and heats may be off by {100.0 * abs(_effect(worst, step)):.0f} % "
        f"(run {worst.id}), and by more where the exotherm begins at the step. Give baseline.left_C between {clear:.0f} °C and the begin of the "
        "exotherm where there is room, with a linear baseline (over few kelvins a tangent's slope is not known), or leave ramps out whose "
        "exotherm begins at the step."))]


def _effect(run: Run, step: Step) -> float:
    """What a step adds to a ramp's heat, over that heat."""
    signal = -0.5 * step.capacity * run.heating_rate * (1.0 + np.tanh((run.T - step.temperature) / step.width))
    return float(trapezia(run) @ (signal - run.basis @ (run.functionals @ signal))) / run.heat
