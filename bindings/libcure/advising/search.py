"""Looks for the smallest change that does it: a scan of all round values, then a bracketed root.

The scan by ensembles finds every stretch of values that meets the need, also where more is not always
better. Near its answer whole predictions decide, and Brent's method closes in on the edge (R.P. Brent,
Algorithms for Minimization without Derivatives, 1973, ch. 4). The answer is the value after the first that does it,
so that the job still holds when the crew misses it by a step.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure.advising.levers import Lever
from libcure.advising.result import Outcome
from libcure.advising.trials import Trials

__all__ = ["Found", "look"]

EDGE_C = 0.01  # how closely the edge is known


@dataclass(frozen=True)
class Found:
    """What a search came to."""

    value: float | None
    """Value nearest to the start that does it, as the one before it does, on the conservative sides too where known [°C]."""
    middle: float | None
    """The same by the middle values alone."""
    edge: float | None
    """Where the middle values begin to do it."""
    works_to: float | None
    """Farthest value, without a gap, at which the middle values still do it."""
    harmful: float | None
    """Where none does it: the nearest value that meets the time, but harms otherwise, is not sure, or has no reserve."""
    best_min: float
    """Best time that the scan saw [min]: latest moment in place, or recommended release."""
    best_at: float


def look(trials: Trials, base: Mapping[str, Any], lever: Lever, need: str) -> Found:
    """Turns a lever away from its start until the need is met, on top of the changes ``base``.

    Args:
        need: ``working`` (the liner may be held late enough, and nothing gets too hot) or ``release``.
    """

    def turned(value: float) -> dict[str, Any]:
        return {**base, **lever.changes(value)}

    def room(value: float) -> float:
        if need == "release":
            return trials.release_room(trials.trial(turned(value)))
        latest = trials.latest(turned(value))  # costs a tenth of the whole job
        if latest is not None and latest < trials.needs.working_min:
            return latest - trials.needs.working_min
        return trials.working_room(trials.trial(turned(value)))

    values = lever.values
    times = _scan(trials, base, lever, values, need)
    if need == "working":
        meets, best = times >= trials.needs.working_min, int(np.argmax(times))
    else:
        meets, best = times <= trials.release_target_min, int(np.argmin(times))
    first = next((int(i) for i in np.flatnonzero(meets) if room(values[i]) >= 0.0), None)
    if first is None:
        harmful = values[int(np.argmax(meets))] if meets.any() else None
        return Found(None, None, None, None, harmful, float(times[best]), values[best])
    edge = _edge(room, values[first - 1] if first > 0 else lever.start_C, values[first])
    last = first
    while last + 1 < len(values) and meets[last + 1]:
        last += 1
    if room(values[last]) < 0.0:  # the scan does not see what gets too hot
        last = _turns(lambda i: room(values[i]) >= 0.0, first, last)
    # Time on the conservative side gets better along the lever, its heat may get better or worse.
    sure = _surely(lambda i: trials.in_time(turned(values[i]), need), first, last)
    cool = sure
    if sure is not None and not trials.cool(turned(values[sure])):
        cool = _surely(lambda i: trials.cool(turned(values[i])), sure, last) if need == "working" else None
    nearest, value = first if sure is None else sure, None
    if cool is not None:
        nearest = min(cool + 1, last)
        kept = nearest > cool and trials.in_time(turned(values[nearest]), need) and trials.cool(turned(values[nearest]))
        value = values[nearest] if kept else None
    return Found(
        value, values[min(first + 1, last)], edge, values[last],
        values[nearest] if value is None else None, float(times[best]), values[best],
    )  # fmt: skip


def _surely(sure: Callable[[int], bool], first: int, last: int) -> int | None:
    """The first index that is sure, taking that those after it are; the steps double, then halve."""
    low, high, step = first - 1, first, 1
    while not sure(high):
        if high == last:
            return None
        low, high, step = high, min(high + step, last), 2 * step
    return _turns(lambda i: not sure(i), low, high) + 1


def _turns(holds: Callable[[int], bool], low: int, high: int) -> int:
    """The last index, by halving, at which something still holds that holds at ``low`` and no more at ``high``."""
    while high - low > 1:
        middle = (low + high) // 2
        if holds(middle):
            low = middle
        else:
            high = middle
    return low


def _scan(
    trials: Trials, base: Mapping[str, Any], lever: Lever, values: Sequence[float], need: str
) -> NDArray[np.float64]:
    """Latest moment in place, or recommended release [min], at each value."""
    sectioned = trials.section and (need == "release" or trials.held == 0)
    if lever.input is not None and not sectioned:
        return trials.scan(base, lever.input, np.array(values) - lever.start_C, need)
    return trials.scan_cases([{**base, **lever.changes(value)} for value in values], need)


def _edge(room: Callable[[float], float], before: float, value: float) -> float:
    """Where room turns from negative to not negative, on the side where it is not."""
    from scipy.optimize import brentq

    if room(before) >= 0.0:  # the start itself, when another need was the reason to look
        return before
    if room(value) == 0.0:
        return value
    edge = float(brentq(room, before, value, xtol=EDGE_C))
    # The root may lie on either side of the edge by its tolerance.
    inwards = EDGE_C if value > before else -EDGE_C
    while room(edge) < 0.0 and (value - edge) * inwards > 0.0:
        edge += inwards
    return min(edge, value) if value > before else max(edge, value)

