"""How a chart's cells look, on paper and on screen: a word, a colour and a hatching for each meaning.

Colours darken as the wait grows, so that a grey print keeps the order. What stops a job carries a
word and a hatching too.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass

from libcure.charting.document import MONTHS, Axis, ChartDocument, Climate
from libcure.charting.result import Answer
from libcure.charting.words import fahrenheit

__all__ = [
    "INK",
    "NEVER_BACK",
    "RELEASE_COLOURS",
    "SHORT_BACK",
    "MonthLine",
    "ReleaseColour",
    "band_of",
    "both_ranges",
    "celsius_range",
    "ground_axis",
    "month_lines",
    "second_label",
]

INK, FAINT = "#1a1a1a", "#767676"
SHORT_BACK = "#f4b183"
NEVER_BACK = "#ffffff"


@dataclass(frozen=True)
class ReleaseColour:
    """Release times of one colour."""

    most_min: float
    """[min]"""
    text: str
    color: str


RELEASE_COLOURS = (
    ReleaseColour(120.0, "up to 2 h", "#fdf7dc"),
    ReleaseColour(480.0, "up to 8 h", "#d3e8d3"),
    ReleaseColour(1440.0, "up to 24 h", "#a3c9dc"),
    ReleaseColour(float("inf"), "over 24 h", "#86a6d0"),
)


def band_of(answer: Answer) -> ReleaseColour | None:
    """The band of a cell; None when it must not be used."""
    if not answer.use:
        return None
    return next(band for band in RELEASE_COLOURS if answer.release_min <= band.most_min)


def second_label(axis: Axis, i: int, climate: Climate | None) -> str:
    """The line under an axis label: °F for °C, the ground's temperature in both for a month; else empty."""
    if axis.months and climate is not None:
        low, _, high = climate.month_C(axis.values[i])
        return both_ranges(low, high)
    if axis.numeric and axis.unit == "°C":
        return f"{fahrenheit(float(axis.values[i])):.0f} °F"
    return ""


def celsius_range(low: float, high: float) -> str:
    """``6 to 8 °C``, or one number where both round to the same."""
    return f"{low:.0f} °C" if f"{low:.0f}" == f"{high:.0f}" else f"{low:.0f} to {high:.0f} °C"


def both_ranges(low: float, high: float) -> str:
    """``6-8 °C, 43-46 °F``, where the room is small; temperatures in °C."""

    def span(low: float, high: float) -> str:
        # Beside a minus sign a dash cannot be read.
        return celsius_range(low, high)[:-3].replace(" to ", " to " if low < 0.0 else "-")

    return f"{span(low, high)} °C, {span(fahrenheit(low), fahrenheit(high))} °F"


@dataclass(frozen=True)
class MonthLine:
    """A month in a chart by ground temperature."""

    month: str
    low_C: float
    high_C: float
    rows: tuple[int, ...]
    """Places on the ground axis from the next colder value to the next warmer one, cold first; empty off the chart.

    The first tells the release; none of them may say DO NOT USE.
    """


def ground_axis(chart: ChartDocument) -> Axis | None:
    """The axis of ground temperatures, when there is one and a climate to read it by."""
    if chart.climate is None:
        return None
    return next((a for a in chart.axes if a.numeric and "ground.temperature_C" in a.sets), None)


def month_lines(chart: ChartDocument, depth_m: float | None = None) -> list[MonthLine]:
    """Which rows tell the release in each month, to the safe side; empty without ground axis or climate.

    Not the working time: resin, packer and air are warmer in summer too, and the axis leaves them as they are.
    """
    axis, climate = ground_axis(chart), chart.climate
    if axis is None or climate is None:
        return []
    places = sorted(range(len(axis.values)), key=lambda i: float(axis.values[i]))
    values = [float(axis.values[i]) for i in places]
    lines = []
    for number, name in enumerate(MONTHS, 1):
        low, _, high = climate.month_C(number, depth_m)
        first, last = bisect_right(values, low) - 1, bisect_left(values, high)
        inside = first >= 0 and last < len(values)
        lines.append(MonthLine(name, low, high, tuple(places[first : last + 1]) if inside else ()))
    return lines
