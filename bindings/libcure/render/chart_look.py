"""How a chart's cells look, on paper and on screen: a word, a colour and a hatching for each meaning.

Colours darken as the wait grows, so that a grey print keeps the order. What stops a job carries a
word and a hatching too.
"""

from __future__ import annotations

import itertools
import re
from bisect import bisect_left, bisect_right
from dataclasses import dataclass

from libcure.charting.axes import Axis, follows
from libcure.charting.climate import MONTHS
from libcure.charting.document import ChartDocument
from libcure.charting.result import Answer, ChartResult
from libcure.charting.units import converted, other_units
from libcure.charting.words import code_words, fahrenheit
from libcure.words.phrases import month_name

__all__ = [
    "INK",
    "NEVER_BACK",
    "RELEASE_COLOURS",
    "SHORT_BACK",
    "MonthAnswer",
    "MonthLine",
    "ReleaseColour",
    "band_of",
    "both_ranges",
    "ground_axis",
    "month_answers",
    "month_lines",
    "month_places",
    "resin_axis",
    "second_label",
    "value_label",
]

INK, FAINT = "#1a1a1a", "#767676"
SHORT_BACK = "#f4b183"
NEVER_BACK = "#ffffff"


@dataclass(frozen=True)
class ReleaseColour:
    """Release times of one colour."""

    most_min: float
    """[min]"""
    key: str
    """Of the phrase that says it, with ``time``."""
    time: str
    color: str

    def words(self, chart: ChartDocument) -> str:
        """``release up to 2 h``."""
        return chart.say("legend_band", band=chart.say(self.key, time=self.time))


RELEASE_COLOURS = (
    ReleaseColour(120.0, "up_to", "2 h", "#fdf7dc"),
    ReleaseColour(480.0, "up_to", "8 h", "#d3e8d3"),
    ReleaseColour(1440.0, "up_to", "24 h", "#a3c9dc"),
    ReleaseColour(float("inf"), "over", "24 h", "#86a6d0"),
)


def band_of(answer: Answer) -> ReleaseColour | None:
    """The band of a cell; None when it must not be used."""
    if not answer.use:
        return None
    return next(band for band in RELEASE_COLOURS if answer.release_min <= band.most_min)


def value_label(chart: ChartDocument, axis: Axis, i: int) -> str:
    """What a value is called, in the unit that stands first on the sheet."""
    label, unit = chart.label(axis, i), axis.unit
    if not axis.numeric or not unit:
        return f"{label} {unit}".strip()
    if not re.match(r"\s*[-+−]?\d", label):
        return label
    wanted = {"°C": chart.temperature, "°F": chart.temperature, "mm": chart.length, "in": chart.length}.get(unit, unit)
    other = None if wanted == unit else converted(float(axis.values[i]), unit, wanted)
    if other is None:
        return label if any(other_units(label, "")) else f"{label} {unit}"
    return chart.written(degrees(other, wanted) if wanted in ("°C", "°F") else f"{other:.3g} {wanted}")


def second_label(chart: ChartDocument, axis: Axis, i: int) -> tuple[str, ...]:
    """The lines under an axis label: the other scale of a temperature; what a season brings to wall and resin; else none."""
    if axis.seasons and chart.climate is not None:
        parts = {"ground": chart.say("wall"), "stores": chart.say("resin"), "air": chart.say("air")}
        whats = axis.whats(chart.climate)
        return tuple(
            f"{name} {both_ranges(*chart.climate.span_C(what, axis.seasons[i]), first=chart.temperature, to=chart.say('to'))}"
            for what, name in parts.items() if what in whats and not (what == "air" and "stores" in whats)
        )  # fmt: skip
    if not axis.numeric or axis.unit not in ("°C", "°F"):
        return ()
    T = axis.number(i)
    if not re.match(r"\s*[-+−]?\d", axis.labels[i]):
        return (chart.written(f"{degrees(T, '°C')}, {degrees(fahrenheit(T), '°F')}"),)
    return (f"{T + 0.0:.0f} °C",) if chart.temperature == "°F" else (f"{fahrenheit(T):.0f} °F",)


def degrees(value: float, unit: str) -> str:
    """A temperature in whole degrees, or as it is when it has few digits."""
    return f"{value:.0f} {unit}" if abs(value - round(value)) > 1e-6 and unit == "°F" else f"{value:.3g} {unit}"


def both_ranges(low: float, high: float, first: str = "°C", to: str = "to") -> str:
    """``6-8 °C, 43-46 °F``, where the room is small, or one number where both round to the same; temperatures in °C."""

    def span(low: float, high: float) -> str:
        # Beside a minus sign a dash cannot be read.
        return (f" {to} " if round(low) < 0 else "-").join(dict.fromkeys((str(round(low)), str(round(high)))))

    celsius, other = f"{span(low, high)} °C", f"{span(fahrenheit(low), fahrenheit(high))} °F"
    return f"{other}, {celsius}" if first == "°F" else f"{celsius}, {other}"


@dataclass(frozen=True)
class MonthLine:
    """A month in a chart by wall temperature, and by that of resin and packer where it has such an axis."""

    month: str
    wall_C: tuple[float, float]
    """Coldest and warmest."""
    resin_C: tuple[float, float] | None
    """None where nothing is known of the air, or no axis tells it: then the month says no working time."""
    rows: tuple[int, ...]
    """Places on the axis of the wall from the next colder value to the next warmer one, cold first; empty off the chart."""
    columns: tuple[int, ...]
    """The same on the axis of the resin."""

    @property
    def on_chart(self) -> bool:
        """Whether the chart reaches around the month."""
        return bool(self.rows) and (self.resin_C is None or bool(self.columns))


def ground_axis(chart: ChartDocument) -> Axis | None:
    """The axis of ground temperatures, when there is one and a climate to read it by."""
    if chart.climate is None:
        return None
    return next((a for a in chart.axes if a.numeric and "ground.temperature_C" in a.sets), None)


def resin_axis(chart: ChartDocument) -> Axis | None:
    """The axis of the resin's temperature, when there is one and a climate to read it by."""
    if chart.climate is None or chart.climate.air is None:
        return None
    return next((a for a in chart.axes if a.numeric and "initial_temperature_C.resin" in a.sets), None)


def _resin_span(chart: ChartDocument, axis: Axis, months: tuple[int, ...]) -> tuple[float, float]:
    """Coldest resin and packer, and warmest resin, packer or air where the axis moves that too [°C]."""
    assert chart.climate is not None
    low, high = chart.climate.span_C("stores", months)
    # Air warmer than the resin hurries it in the wet-out; colder air does not, and says little of the release.
    if any((f := follows(path)) is not None and f.what == "air" for path in axis.sets):
        high = max(high, chart.climate.span_C("air", months)[1])
    return low, high


def _around(axis: Axis, low: float, high: float) -> tuple[int, ...]:
    """Places from the next colder value to the next warmer one; empty where the axis does not reach around."""
    places = sorted(range(len(axis.values)), key=axis.number)
    values = [axis.number(i) for i in places]
    first, last = bisect_right(values, low) - 1, bisect_left(values, high)
    return tuple(places[first : last + 1]) if first >= 0 and last < len(values) else ()


def month_lines(chart: ChartDocument, depth_m: float | None = None) -> list[MonthLine]:
    """Which cells a month touches; empty without an axis of the wall or a climate."""
    axis, climate = ground_axis(chart), chart.climate
    if axis is None or climate is None:
        return []
    resin, lines = resin_axis(chart), []
    for number, name in enumerate(MONTHS, 1):
        low, _, high = climate.month_C(number, depth_m)
        span = _resin_span(chart, resin, (number,)) if resin is not None else None
        columns = _around(resin, *span) if resin is not None and span is not None else ()
        name = month_name(number, chart.publication.language) if chart.publication.language != "en" else name
        lines.append(MonthLine(name, (low, high), span, _around(axis, low, high), columns))
    return lines


@dataclass(frozen=True)
class MonthAnswer:
    """What a month says of one place on the other axes, to the conservative side of all cells that it touches."""

    where: str
    """The place; empty where there are no other axes."""
    in_place: str
    """Empty where the month says no working time."""
    work: str
    release: str
    stop: str
    """Why it must not be used, or that the chart does not reach there; then there are no times."""

    @property
    def short(self) -> str:
        """In a narrow column: the gravest reason only."""
        return self.stop.split(",")[0] or " / ".join(filter(None, (self.in_place or self.work, self.release)))


def month_places(chart: ChartDocument) -> list[tuple[int | None, ...]]:
    """Places on the axes that no month decides: an index an axis, None on those that it decides."""
    decided = {a.name for a in (ground_axis(chart), resin_axis(chart)) if a is not None}
    return list(itertools.product(*([None] if a.name in decided else range(len(a.values)) for a in chart.axes)))


def month_answers(result: ChartResult, line: MonthLine) -> list[MonthAnswer]:
    """What a month says, a place of :func:`month_places` each.

    Without an axis of the resin it says the release only: the chart holds resin, packer and air as they are, and a month does not.
    """
    chart = result.chart
    wall, resin = ground_axis(chart), resin_axis(chart)
    found = []
    for place in month_places(chart):
        where = ", ".join(value_label(chart, a, i) for a, i in zip(chart.axes, place, strict=True) if i is not None)
        if not line.on_chart:
            found.append(MonthAnswer(where, "", "", "", chart.say("off_chart")))
            continue
        choices = (
            (i,) if i is not None else line.rows if axis is wall else line.columns
            for axis, i in zip(chart.axes, place, strict=True)
        )  # fmt: skip
        answers = [result.answers[index] for index in itertools.product(*choices)]
        found.append(_worst(chart, where, answers, resin is not None))
    return found


def _worst(chart: ChartDocument, where: str, answers: list[Answer], with_work: bool) -> MonthAnswer:
    stops = dict.fromkeys(word for answer in answers for word in answer.why_not)
    if stops:
        # The hottest of several.
        hot = [word for word in stops if word.startswith("TOO HOT")]
        words = [word for word in stops if word not in hot] + ([max(hot, key=_length_first)] if hot else [])
        return MonthAnswer(where, "", "", "", ", ".join(code_words(chart, word) for word in words))
    release = max(answers, key=lambda answer: answer.release_min).release_text
    if not with_work:
        return MonthAnswer(where, "", "", release, "")
    least = min(answers, key=lambda answer: answer.working_min)
    placed = [answer for answer in answers if answer.in_place_min is not None]
    in_place = min(placed, key=lambda answer: answer.in_place_min or 0.0).in_place_text if placed else ""
    return MonthAnswer(where, code_words(chart, in_place), code_words(chart, least.working_text), release, "")


def _length_first(text: str) -> tuple[int, str]:
    """Orders numbers in texts of one form."""
    return len(text), text
