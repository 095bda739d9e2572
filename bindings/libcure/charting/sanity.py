"""Do the cells of a chart contradict each other? Where they do it is reported, never smoothed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from libcure.charting.axes import Axis
from libcure.charting.climate import POINTS
from libcure.charting.document import ChartDocument
from libcure.words.phrases import phrase

if TYPE_CHECKING:
    from libcure.charting.result import ChartResult

__all__ = ["TOLERANCE", "Check", "Violation", "checks_of", "violations_of"]

TOLERANCE = 1e-3
"""Share of a time that the solver's own error may account for."""

Floats = NDArray[np.float64]

_WARM = re.compile(r"ground\.temperature_C|initial_temperature_C\.\w+|stages\[\d+\]\.(ambient|fill)_temperature_C")
_NAMES = {"working_min": "tip_working", "gel_first_min": "tip_gel_first", "criterion_met_min": "page_release"}
"""Phrases of the times that are checked."""
_DEMANDS = ("release.alpha_min", "release.Tg_margin_K", "release.bears.water_head_m", "release.bears.factor", "release.load_hours")


@dataclass(frozen=True)
class Check:
    """One expectation: along an axis a time may not rise, or may not fall."""

    axis: str
    quantity: str
    """One of the times of ``_NAMES``; empty when nothing is checked, and why."""
    rises: bool
    why: str
    """The phrase that says it."""

    def text(self, language: str = "en") -> str:
        """The expectation in words."""
        why = phrase(self.why, language)
        if not self.quantity:
            return phrase("check_none", language, axis=self.axis, why=why)
        worse = "check_sooner" if self.rises else "check_longer" if self.quantity == "working_min" else "check_later"
        return phrase(worse, language, axis=self.axis, time=phrase(_NAMES[self.quantity], language), why=why)


@dataclass(frozen=True)
class Violation:
    """Two neighbours that go against an expectation."""

    quantity: str
    percentile: int
    before: tuple[int, ...]
    """Index of a cell."""
    after: tuple[int, ...]
    times: tuple[float | None, float | None]
    """Of both [min]; infinite is never, None a release of a cell that must not be used."""
    places: tuple[str, str]
    """Both cells in words of the document."""
    why: str
    """The phrase of the expectation."""

    def text(self, language: str = "en") -> str:
        """What goes against what, in words."""
        low, high = (_shown(time, language) for time in self.times)
        time, why = phrase(_NAMES[self.quantity], language), phrase(self.why, language)
        before, after = self.places
        return phrase("check_goes", language, percent=self.percentile, time=time, low=low, before=before, high=high, after=after, why=why)


def checks_of(chart: ChartDocument) -> list[Check]:
    """What can be expected along each axis, and what cannot."""
    found: list[Check] = []
    for axis in chart.axes:
        if _is_warmth(axis):
            found += [
                Check(axis.name, "gel_first_min", False, "why_warm"),
                Check(axis.name, "", False, "why_thick"),
                Check(axis.name, "criterion_met_min", False, "why_wall"),
            ]
        elif all(path in _DEMANDS for path in axis.sets):
            found.append(Check(axis.name, "criterion_met_min", True, "why_demand"))
        elif axis.faster:
            found += [Check(axis.name, "working_min", False, "why_order"), Check(axis.name, "", False, "why_short")]
        elif axis.sets == ("liner.thickness_mm",):
            found.append(Check(axis.name, "", False, "why_thickness"))
        else:
            found.append(Check(axis.name, "", False, "why_no_law"))
    return found


def _is_warmth(axis: Axis) -> bool:
    """Whether an axis sets temperatures alone."""
    numbers = all(isinstance(v, int | float) for values in axis.settings for v in values)
    return bool(axis.seasons) or (numbers and all(_WARM.fullmatch(path) for path in axis.sets))


def _ranks(chart: ChartDocument, axis: Axis) -> NDArray[np.float64] | None:
    """What the values of an axis are compared by, (values, n): all n must rise together. None for words."""
    if axis.seasons:
        assert chart.climate is not None
        climate, rank = chart.climate, np.linspace(0.0, 1.0, POINTS)
        whats = sorted(axis.whats(climate))
        return np.array([np.concatenate([climate.at_C(what, months, rank, 0.5) for what in whats]) for months in axis.seasons])
    if all(isinstance(v, int | float) for values in axis.settings for v in values):
        return np.array(axis.settings, dtype=float)
    return None


def _order(ranks: NDArray[np.float64] | None, count: int) -> list[int]:
    """Places of the axis' values from low to high, or from cold to warm, or as they stand."""
    if ranks is None:
        return list(range(count))
    return sorted(range(count), key=lambda i: float(ranks[i].mean()))


def _comparable(ranks: NDArray[np.float64] | None, order: list[int]) -> NDArray[np.bool_]:
    """Which neighbours can be compared: of seasons, and of values that are several, only those warmer from end to end."""
    if ranks is None:
        return np.ones(len(order) - 1, dtype=bool)
    through = ranks[order]
    return np.asarray((through[1:] >= through[:-1]).all(axis=1))


def violations_of(result: ChartResult) -> list[Violation]:
    """All neighbours along an axis that go against an expectation of :func:`checks_of`."""
    from libcure.sampling import PERCENTILES

    chart, found = result.chart, []

    def set_early(index: tuple[int, ...]) -> int:
        """Samples that never get as far as a release, which cold or warmth of the wall would decide."""
        return int(result.records[index]["states"]["gelled_before_held"])

    for check in checks_of(chart):
        if not check.quantity:
            continue
        k = next(i for i, axis in enumerate(chart.axes) if axis.name == check.axis)
        ranks = _ranks(chart, chart.axes[k])
        order = _order(ranks, chart.shape[k])
        values = np.moveaxis(result.numbers[check.quantity], k, 0)[order]
        low, high = values[:-1], values[1:]
        if check.rises:
            low, high = high, low
        # Infinite is later than all else, and not later than itself.
        bad = high > low * (1.0 + TOLERANCE)
        bad[~_comparable(ranks, order)] = False
        for place in np.argwhere(bad):
            step, *others, p = (int(i) for i in place)
            others.insert(k, order[step])
            before = tuple(others)
            after = (*before[:k], order[step + 1], *before[k + 1 :])
            if check.quantity == "criterion_met_min" and not check.rises and set_early(after) > set_early(before):
                continue
            times = _time(result, check.quantity, before, p), _time(result, check.quantity, after, p)
            places = result.where(before), result.where(after)
            found.append(Violation(check.quantity, PERCENTILES[p], before, after, times, places, check.why))
    return found


def _time(result: ChartResult, quantity: str, index: tuple[int, ...], percentile: int) -> float | None:
    """A time [min]; None for the release of a cell that must not be used."""
    value = float(result.numbers[quantity][(*index, percentile)])
    hidden = np.isfinite(value) and quantity == "criterion_met_min" and not result.answers[index].use
    return None if hidden else value


def _shown(time: float | None, language: str) -> str:
    if time is None:
        return phrase("check_no_time", language)
    return f"{time:.1f} min" if np.isfinite(time) else phrase("number_never", language)
