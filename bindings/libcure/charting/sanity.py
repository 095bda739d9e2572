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

if TYPE_CHECKING:
    from libcure.charting.result import ChartResult

__all__ = ["TOLERANCE", "Check", "Violation", "checks_of", "violations_of"]

TOLERANCE = 1e-3
"""Share of a time that the solver's own error may account for."""

Floats = NDArray[np.float64]

_WARM = re.compile(r"ground\.temperature_C|initial_temperature_C\.\w+|stages\[\d+\]\.(ambient|fill)_temperature_C")
_NAMES = {"working_min": "working time", "gel_first_min": "first gel", "criterion_met_min": "release"}
_DEMANDS = ("release.alpha_min", "release.Tg_margin_K", "release.bears.water_head_m", "release.bears.factor", "release.load_hours")


@dataclass(frozen=True)
class Check:
    """One expectation: along an axis a time may not rise, or may not fall."""

    axis: str
    quantity: str
    """One of the times of ``_NAMES``; empty when nothing is checked, and why."""
    rises: bool
    why: str

    @property
    def text(self) -> str:
        """The expectation in words."""
        if not self.quantity:
            return f"{self.axis}: not checked: {self.why}"
        worse = "sooner" if self.rises else "longer" if self.quantity == "working_min" else "later"
        return f"{self.axis}: {_NAMES[self.quantity]} not {worse}: {self.why}"


@dataclass(frozen=True)
class Violation:
    """Two neighbours that go against an expectation."""

    quantity: str
    percentile: int
    before: tuple[int, ...]
    """Index of a cell."""
    after: tuple[int, ...]
    text: str


def checks_of(chart: ChartDocument) -> list[Check]:
    """What can be expected along each axis, and what cannot."""
    found: list[Check] = []
    for axis in chart.axes:
        if _is_warmth(axis):
            found += [
                Check(axis.name, "gel_first_min", False, "warmer resin reacts faster"),
                Check(axis.name, "", False, "the working time may end at a viscosity, and colder resin is thicker"),
                Check(
                    axis.name,
                    "criterion_met_min",
                    False,
                    "a warmer wall cures sooner and vitrifies later; it may fail honestly where Tg, which must stay "
                    "above the wall's temperature, decides the release, and is not asked of a warmer cell in which "
                    "more samples set before the liner is held",
                ),
            ]
        elif all(path in _DEMANDS for path in axis.sets):
            found.append(Check(axis.name, "criterion_met_min", True, "more is asked for"))
        elif axis.faster:
            found += [
                Check(
                    axis.name, "working_min", False, "the chart states that each resin is faster than the one before"
                ),
                Check(
                    axis.name, "", False, "release need not follow the speed of the resin: a fast one may stop short"
                ),
            ]
        elif axis.sets == ("liner.thickness_mm",):
            found.append(
                Check(axis.name, "", False, "a thicker liner keeps more of its own heat but has more to heat")
            )
        else:
            found.append(Check(axis.name, "", False, "no law says which way the times go"))
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
        return int(result.records[index]["compared"]["states"]["gelled_before_held"])

    for check in checks_of(chart):
        if not check.quantity:
            continue
        k = next(i for i, axis in enumerate(chart.axes) if axis.name == check.axis)
        ranks = _ranks(chart, chart.axes[k])
        order = _order(ranks, chart.shape[k])
        values = np.moveaxis(result.compared(check.quantity), k, 0)[order]
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
            a, b = (_shown(result, check.quantity, index, p) for index in (before, after))
            text = (
                f"{PERCENTILES[p]} % {_NAMES[check.quantity]} goes from {a} ({result.where(before)}) to {b} "
                f"({result.where(after)}), against: {check.why}"
            )
            found.append(Violation(check.quantity, PERCENTILES[p], before, after, text))
    return found


def _shown(result: ChartResult, quantity: str, index: tuple[int, ...], percentile: int) -> str:
    """A time in words; no release of a cell that must not be used."""
    value = float(result.compared(quantity)[(*index, percentile)])
    if not np.isfinite(value):
        return "never"
    if quantity == "criterion_met_min" and not result.answers[index].use:
        return "a time not to be used"
    return f"{value:.1f} min"
