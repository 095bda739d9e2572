"""The chart on a screen: one HTML file that needs no network, and a piece of it for notebooks."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from libcure import _core
from libcure.charting import words
from libcure.charting.axes import Axis
from libcure.charting.document import ChartDocument
from libcure.charting.result import DO_NOT_USE, TOO_HOT, Answer, ChartResult
from libcure.charting.sanity import checks_of
from libcure.charting.units import converted
from libcure.charting.words import fahrenheit
from libcure.render.chart_look import (
    INK,
    RELEASE_COLOURS,
    SHORT_BACK,
    MonthLine,
    ReleaseColour,
    band_of,
    both_ranges,
    ground_axis,
    month_answers,
    month_lines,
    resin_axis,
    second_label,
    value_label,
)
from libcure.render.chart_mark import mark_png
from libcure.render.chart_question import CHART_WORDS, question_of
from libcure.render.html import filled, picture, template
from libcure.sampling import PERCENTILES
from libcure.words.rounding import short_duration, whole

__all__ = ["fragment", "html", "warm_up"]

DEPTHS_M = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0)

_CROSS = (
    "repeating-linear-gradient(45deg,#777 0 1px,transparent 1px 6px),"
    "repeating-linear-gradient(-45deg,#777 0 1px,transparent 1px 6px),#fff"
)
_STRIPES = f"repeating-linear-gradient(-45deg,#8a5a30 0 1.5px,transparent 1.5px 7px),{SHORT_BACK}"
PAGE = "chart.html"


class _Cell(NamedTuple):
    where: str
    in_place: str
    """Latest moment in place; empty where nothing comes before the hold."""
    band: ReleaseColour | None
    """None where the cell must not be used."""
    word: str
    """``work``, or ``SHORT``."""
    work: str
    short: bool
    """Too little working time."""
    release: str
    why_not: tuple[str, ...]
    hot: str
    """The word of ``why_not`` that says that it is hot; how hot is told by the tip."""
    bands: list[tuple[str, list[str]]]
    """Of the tool tip: name and the three percentiles in words."""
    lines: list[str]
    """Below them."""


class _Row(NamedTuple):
    label: str
    second: list[str]
    cells: list[_Cell]


class _Panel(NamedTuple):
    title: str
    heads: list[str]
    rows: list[_Row]


def html(result: ChartResult) -> str:
    """The whole page."""
    chart, publication = result.chart, result.chart.publication
    return filled(
        PAGE, result=result, chart=chart, version=_core.__version__, estimated=_estimated(result), climate=chart.climate,
        how_to_read=words.how_to_read(chart), say=chart.say, publication=publication, mark=_mark(chart),
        made_for=words.made_for(chart), between=words.between(chart), by_month=words.by_month(chart),
        headline=words.headline(chart), moves_most=words.moves_most(chart, result.dominant), key=_key(result),
        percentiles=PERCENTILES, corner=chart.axis(chart.rows).title, panels=list(_panels(result)), months=_months(result),
        question=_question(result), sensitivity=_sensitivity(result), checks=[check.text(publication.language) for check in checks_of(chart)],
        violations=[violation.text(publication.language) for violation in result.violations],
        page=chart.page, paper={"Letter": "letter"}.get(chart.paper, chart.paper), print_points=_print_points(result),
        ink=INK, short_back=SHORT_BACK, cross=_CROSS, stripes=_STRIPES,
    )  # fmt: skip


def _print_points(result: ChartResult) -> float:
    """Size of letters with which the page is one sheet of paper: smaller for more rows or columns than the shipped chart has."""
    chart = result.chart
    rows = len(chart.axis(chart.rows).values)
    columns = math.prod(chart.shape) / rows
    return round(max(4.0, min(7.5, 7.5 * 6.0 / rows, 7.5 * 12.0 / columns)), 1)


def fragment(result: ChartResult) -> str:
    """The grid alone, for a notebook: styles in line, bands as tool tips of the browser."""
    return filled(
        "chart_fragment.html", result=result, estimated=_estimated(result), panels=list(_panels(result)), ink=INK, cross=_CROSS,
        say=result.chart.say, dominant=words.input_name(result.chart, result.dominant) if result.dominant else "",
    )  # fmt: skip


def warm_up() -> None:
    """Loads the page's template while the engine computes."""
    template(PAGE)


def _estimated(result: ChartResult) -> str:
    return result.chart.say("estimated") if any(case.resin.estimated for case in result.chart.cases.values()) else ""


def _key(result: ChartResult) -> list[tuple[str, str]]:
    """Backgrounds and what they mean."""
    chart, need = result.chart, result.chart.need_min
    never, hot = chart.say("page_stop"), chart.say("page_hot")
    short = [(_STRIPES, chart.say("page_short", need=f"{need:g}"))] if need else []
    return [*((band.color, band.words(chart)) for band in RELEASE_COLOURS), *short, (_CROSS, never), (INK, hot)]


def _panels(result: ChartResult) -> Iterator[_Panel]:
    """Of all pages, one after the other."""
    for name, page in result.pages:
        for panel in _page_panels(page):
            yield panel._replace(title=", ".join(filter(None, (name, panel.title))))


def _page_panels(result: ChartResult) -> Iterator[_Panel]:
    chart = result.chart
    rows = chart.axis(chart.rows)
    columns = chart.axis(chart.columns) if chart.columns is not None else None
    panels = chart.axis(chart.panels) if chart.panels is not None else None
    for p in range(len(panels.values) if panels is not None else 1):
        title = f"{panels.title}: {value_label(chart, panels, p)}" if panels is not None else ""
        heads = [f"{columns.title} {value_label(chart, columns, c)}" for c in range(len(columns.values))] if columns else [""]
        body = []
        for r in range(len(rows.values)):
            places = ({chart.panels: p, chart.rows: r, chart.columns: c} for c in range(len(heads)))
            cells = [_cell(result, result.answers[tuple(place[axis.name] for axis in chart.axes)]) for place in places]
            body.append(_Row(value_label(chart, rows, r), list(second_label(chart, rows, r)), cells))
        yield _Panel(title, heads, body)


def _cell(result: ChartResult, answer: Answer) -> _Cell:
    chart, short = result.chart, bool(answer.working_word)
    return _Cell(
        where=result.where(answer.index),
        in_place=words.code_words(chart, answer.in_place_text),
        band=band_of(answer),
        word=words.code_words(chart, answer.working_word) if short else chart.say("work"),
        work=words.code_words(chart, answer.working_text.removeprefix(answer.working_word).strip()),
        short=short,
        release=words.code_words(chart, answer.release_text),
        why_not=tuple(words.code_words(chart, word) for word in (DO_NOT_USE, *answer.short_why)),
        hot=words.code_words(chart, TOO_HOT) if answer.hot_word else "",
        bands=list(_bands(result, answer)),
        lines=_lines(result, answer),
    )


def _bands(result: ChartResult, answer: Answer) -> Iterator[tuple[str, list[str]]]:
    """Rows of the tool tip: name and the three percentiles in words; no release of a cell that must not be used."""
    shown = [
        ("tip_in_place", "in_place_min", False),
        ("tip_working", "working_min", False),
        ("tip_gel_first", "gel_first_min", False),
        ("tip_gel_last", "gel_last_min", True),
        ("tip_criterion", "criterion_met_min", True),
    ]
    say = result.chart.say
    for name, key, up in shown[answer.in_place_min is None :] if answer.use else shown[1:4]:
        yield say(name), [_minutes(result.chart, float(v), up) for v in result.numbers[key][answer.index]]
    first, hottest = result.chart.temperature, result.numbers["peak_temperature_C"][answer.index]
    shown_as = (fahrenheit(float(v)) if first == "°F" else float(v) for v in hottest)
    yield say("tip_hottest"), [f"{whole(v, up=True)} {first}" if math.isfinite(v) else say("tip_unknown") for v in shown_as]


def _minutes(chart: ChartDocument, value: float, up: bool) -> str:
    if not math.isfinite(value):
        return chart.say("number_never")
    return short_duration(whole(value, up=up))


def _lines(result: ChartResult, answer: Answer) -> list[str]:
    """What the tool tip says below the percentiles."""
    record, chart = result.records[answer.index], result.chart
    lines = [] if answer.use else [words.code_words(chart, answer.release_text)]
    if record["working_point"]:
        lines.append(chart.say("decided_work", place=_place(chart, record["working_point"])))
    if record["release_point"] and answer.use:
        lines.append(chart.say("decided_release", place=_place(chart, record["release_point"])))
    lost = {name: count for name, count in record["states"].items() if count and name != "reached"}
    if lost:
        parts = ", ".join(f"{chart.say(f'lost_{name}')} {100.0 * count / record['samples']:.1f} %" for name, count in lost.items())
        lines.append(chart.say("lost", reasons=parts))
    if record["message"]:
        lines.append(record["message"])
    return lines


def _sensitivity(result: ChartResult) -> dict[str, Any] | None:
    """The table of indices; None without any."""
    if not result.sensitivities:
        return None
    names = list(dict.fromkeys(name for s in result.sensitivities for name in s.inputs))
    rows: dict[str, list[str]] = {name: [] for name in names}
    say = result.chart.say
    for s in result.sensitivities:
        columns = (s.release[key] for key in ("first", "total", "total_error"))
        shares = dict(zip(s.inputs, zip(*columns, strict=True), strict=True))
        for name in names:
            rows[name].append(result.chart.written(_shares(*shares.get(name, (None, None, None)))))
    told = [(words.input_name(result.chart, name), shares) for name, shares in rows.items()]
    # The core's names of what the variance is of.
    measures = {"log time": "measure_log", "rank": "measure_rank"}
    told.append((say("page_variance"), [say(measures[s.release["measure"]]) for s in result.sensitivities]))
    return {"heads": [result.where(s.index) for s in result.sensitivities], "rows": told, "runs": result.sensitivities[0].runs}


def _shares(first: float | None, total: float | None, error: float | None) -> str:
    if first is None or total is None:
        return "-"
    # Adding zero turns -0.00 into 0.00.
    return f"{round(first, 2) + 0.0:.2f} / {round(total, 2) + 0.0:.2f} ± {error or 0.0:.2f}"


def _question(result: ChartResult) -> dict[str, Any]:
    """What the page needs to answer for one job, in the chart's language and units."""
    chart = result.chart
    question = question_of(result.to_json())
    for axis, asked in zip(chart.axes, question["axes"], strict=True):
        asked["labels"] = [value_label(chart, axis, i) for i in range(len(axis.values))]
        if asked["numbers"]:
            unit = {"°C": chart.temperature, "°F": chart.temperature, "mm": chart.length, "in": chart.length}.get(axis.unit, axis.unit)
            values = [_as_asked(v, axis.unit, unit) for v in asked["numbers"]]
            asked |= {"unit": unit, "numbers": values, "start": values[len(values) // 2]}
    for cell in question["cells"]:
        if "why" in cell:
            cell["why"] = [words.code_words(chart, word) for word in cell["why"]]
        else:
            cell["where"] = [_place(chart, name) for name in cell["where"]]
    return {**question, "words": {key: chart.say(key) for key in CHART_WORDS}}


def _as_asked(value: float, unit: str, wanted: str) -> float:
    other = converted(value, unit, wanted)
    return value if other is None else round(other, 4)


def _place(chart: ChartDocument, name: str) -> str:
    """A place of the core in the language of the chart; the resin where it has none."""
    key = {"resin in the bucket": "place_bucket"}.get(name, f"place_{name.removeprefix('liner ').replace(' ', '_')}")
    return chart.say("resin" if name == "resin" else key)


def _mark(chart: ChartDocument) -> Any:
    """The maker's mark as a picture in the page; None without one."""
    mark = chart.publication.mark
    return picture(mark_png(mark)) if mark is not None else None


def _months(result: ChartResult) -> dict[str, Any] | None:
    """The view by month; None without a ground axis or a climate."""
    axis, climate = ground_axis(result.chart), result.chart.climate
    if axis is None or climate is None:
        return None
    depths, say = sorted({*DEPTHS_M, climate.depth_m}), result.chart.say
    with_work = resin_axis(result.chart) is not None
    data = {
        "heads": ["", *([say("tip_in_place"), say("work")] if with_work else []), say("page_release")],
        "lines": {f"{depth:g}": [_month(result, axis, line, depth) for line in month_lines(result.chart, depth)] for depth in depths},
    }
    names = [line.month for line in month_lines(result.chart)]
    return {"depths": [(f"{depth:g}", result.chart.written(f"{depth:g} m"), depth == climate.depth_m) for depth in depths], "names": names, "data": data}


def _month(result: ChartResult, axis: Axis, line: MonthLine, depth: float) -> dict[str, Any]:
    say, first = result.chart.say, result.chart.temperature
    ground = both_ranges(*line.wall_C, first=first, to=say("to"))
    resin = say("month_resin", span=both_ranges(*line.resin_C, first=first, to=say("to"))) if line.resin_C is not None else ""
    if not line.on_chart:
        read = say("month_off")
    elif line.resin_C is None:
        read = say("month_read", value=value_label(result.chart, axis, line.rows[0]))
    else:
        read = say("month_worst")
    table = []
    for answer in month_answers(result, line) if line.on_chart else ():
        times = [answer.in_place, answer.work] if line.resin_C is not None else []
        told = [*times, answer.release]
        table.append([answer.where, *([f"{words.code_words(result.chart, DO_NOT_USE)}: {answer.stop}"] * len(told) if answer.stop else told)])
    rows = line.rows if axis.name == result.chart.rows else ()
    said = say("month_words", month=line.month, ground=ground, depth=f"{depth:g}", resin=resin, read=read)
    return {"ground": ground, "rows": rows, "table": table, "words": said}
