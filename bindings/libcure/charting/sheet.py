"""The sheet to print for the van: one A4 page, drawn in millimetres.

Few artists: one collection a colour and hatching, one text a line.
"""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font

from libcure import _core, plot
from libcure.charting.look import (
    BANDS,
    INK,
    NEVER_BACK,
    SHORT_BACK,
    band_of,
    both_ranges,
    month_lines,
    second_label,
)
from libcure.charting.paper import GAP, HEAD, LABEL, MARGIN, grid_of, page_size
from libcure.charting.result import Answer, ChartResult
from libcure.errors import one_line

__all__ = ["SheetFigure", "draw", "save", "warm_up"]

MM_PER_POINT = 25.4 / 72.0
FULL_WIDTH, FULL_HEIGHT = 25.0, 11.0
FOOT_POINTS = 6.4
FONT = "DejaVu Sans"

Box = tuple[float, float, float, float]


class SheetFigure(Figure):
    """A figure that a notebook shows by itself."""

    def _repr_png_(self) -> bytes:
        buffer = io.BytesIO()
        plot.save(self, buffer, ".png")
        return buffer.getvalue()


def draw(result: ChartResult) -> SheetFigure:
    """Draws the sheet.

    Raises:
        CureError: more rows or columns than fit legibly.
    """
    with plot._style():
        return _Sheet(result).figure


def save(figure: Figure, target: Path | io.BytesIO, suffix: str) -> None:
    """Writes the sheet as ``.pdf``, ``.svg`` or ``.png``; the same sheet gives the same bytes."""
    # The outlines of the letters alone: taking fonts apart takes longer than all the rest of the page.
    plot.save(figure, target, suffix, {"pdf.fonttype": 3})


def warm_up() -> None:
    """Loads what drawing and saving need: half a second that may pass while the engine computes."""
    with plot._style():
        figure = SheetFigure()
        for weight in ("normal", "bold"):
            figure.text(0.0, 0.0, "0", family=FONT, fontweight=weight)
    for suffix in (".pdf", ".svg"):
        save(figure, io.BytesIO(), suffix)


class _Sheet:
    def __init__(self, result: ChartResult) -> None:
        self.result, self.chart = result, result.chart
        self.width, self.height = page_size(self.chart)
        self.figure = SheetFigure(figsize=(self.width / 25.4, self.height / 25.4))
        FigureCanvasAgg(self.figure)
        self.axes: Axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set(xlim=(0.0, self.width), ylim=(self.height, 0.0))
        self.axes.axis("off")
        self.boxes: dict[tuple[str, str], list[Box]] = {}
        self.lines: dict[float, list[list[tuple[float, float]]]] = {}
        foot = self._foot()
        top = self._head()
        months = month_lines(result)
        bottom = foot - (17.0 if months else 3.0)
        self._grid(top, bottom)
        if months:
            self._months(bottom + 4.0)
        self._flush()

    # Pieces

    def text(
        self,
        x: float,
        y: float,
        words: str,
        points: float,
        *,
        bold: bool = False,
        color: str = INK,
        ha: str = "left",
        va: str = "center",
        **more: Any,
    ) -> None:
        """One line of text at (x, y) [mm]."""
        self.axes.text(
            x,
            y,
            words,
            fontsize=points,
            fontweight="bold" if bold else "normal",
            color=color,
            ha=ha,
            va=va,
            family=FONT,
            parse_math=False,
            **more,
        )

    def fill(self, box: Box, color: str, hatch: str = "") -> None:
        """A rectangle (x, y, width, height) [mm]."""
        self.boxes.setdefault((color, hatch), []).append(box)

    def line(self, x0: float, y0: float, x1: float, y1: float, points: float = 0.5) -> None:
        """A straight line [mm]."""
        self.lines.setdefault(points, []).append([(x0, y0), (x1, y1)])

    def frame(self, box: Box, points: float) -> None:
        """The outline of a rectangle."""
        x, y, w, h = box
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)]
        self.lines.setdefault(points, []).append(corners)

    def _flush(self) -> None:
        for (color, hatch), boxes in self.boxes.items():
            shapes = [[(x, y), (x + w, y), (x + w, y + h), (x, y + h)] for x, y, w, h in boxes]
            self.axes.add_collection(
                PolyCollection(
                    shapes,
                    facecolor=color,
                    edgecolor="#8a5a30" if color == SHORT_BACK else "#555555",
                    linewidth=0.0,
                    hatch=hatch or None,
                    zorder=1.0,
                ),
                autolim=False,
            )
        for points, segments in self.lines.items():
            self.axes.add_collection(
                LineCollection(segments, colors=INK, linewidths=points, zorder=2.0, capstyle="projecting"),
                autolim=False,
            )

    # Head

    def _head(self) -> float:
        chart = self.chart
        estimated = any(case.resin.estimated for case in chart.cases.values())
        badge = 62.0 if estimated else 0.0
        room = self.width - 2.0 * MARGIN - badge
        title = _fit(chart.title, 15.0, room, bold=True)
        self.text(MARGIN, 11.5, title, _points(title, 15.0, room, bold=True), bold=True)
        words = (
            "Working time (upper number): be in place and inflated by then.   "
            "Release (lower number): keep the bladder in at least so long.   Both from mixing."
        )
        self.text(MARGIN, 17.8, words, _points(words, 8.4, self.width - 2.0 * MARGIN))
        if estimated:
            x = self.width - MARGIN - badge + 4.0
            self.frame((x, 7.5, badge - 4.0, 8.0), 1.4)
            self.text(x + 0.5 * (badge - 4.0), 11.5, "ESTIMATED MODEL: NO REAL JOBS", 7.6, bold=True, ha="center")
        return HEAD

    # Grid

    def _grid(self, top: float, bottom: float) -> None:
        chart = self.chart
        rows = chart.axis(chart.rows)
        columns = chart.axis(chart.columns) if chart.columns is not None else None
        panels = chart.axis(chart.panels) if chart.panels is not None else None
        n_rows, n_columns = len(rows.values), len(columns.values) if columns is not None else 1
        n_panels = len(panels.values) if panels is not None else 1
        grid = grid_of(chart, bottom)
        label, gap, head = LABEL, GAP, grid.head
        width, height = min(grid.width, 90.0), min(grid.height, 30.0)
        scale = min(1.5, width / FULL_WIDTH, height / FULL_HEIGHT)
        first = top + head
        self._row_labels(first, height, scale)
        for p in range(n_panels):
            left = MARGIN + label + p * (n_columns * width + gap)
            if panels is not None:
                title = f"{panels.title}: {panels.labels[p]} {panels.unit}".strip()
                extra = second_label(panels, p, chart.climate)
                title = f"{title} ({extra})" if extra else title
                self.text(
                    left + 0.5 * n_columns * width,
                    top + 3.0,
                    title,
                    _points(title, 10.5, n_columns * width, bold=True),
                    bold=True,
                    ha="center",
                )
            for c in range(n_columns):
                x = left + c * width
                if columns is not None:
                    name = f"{columns.title} {columns.labels[c]} {columns.unit}".strip()
                    extra = second_label(columns, c, chart.climate)
                    name = f"{name} {extra}".strip()
                    self.text(x + 0.5 * width, first - 2.8, name, _points(name, 8.0, width - 1.0), ha="center")
                for r in range(n_rows):
                    self._cell((x, first + r * height, width, height), self._answer(p, c, r), scale)
            self.frame((left, first, n_columns * width, n_rows * height), 1.6)

    def _answer(self, panel: int, column: int, row: int) -> Answer:
        chart = self.chart
        place = {chart.panels: panel, chart.columns: column, chart.rows: row}
        return self.result.answers[tuple(place[axis.name] for axis in chart.axes)]

    def _row_labels(self, first: float, height: float, scale: float) -> None:
        chart = self.chart
        rows = chart.axis(chart.rows)
        self.text(MARGIN, first - 2.8, rows.title, _points(rows.title, 8.0, 26.0, bold=True), bold=True)
        for r in range(len(rows.values)):
            y = first + (r + 0.5) * height
            second = second_label(rows, r, chart.climate)
            label = f"{rows.labels[r]} {rows.unit}".strip()
            self.text(
                MARGIN + 25.0,
                y - (1.6 * scale if second else 0.0),
                label,
                _points(label, 11.5 * scale, 25.0, bold=True),
                bold=True,
                ha="right",
            )
            if second:
                self.text(MARGIN + 25.0, y + 2.9 * scale, second, _points(second, 8.0 * scale, 25.0), ha="right")

    def _cell(self, box: Box, answer: Answer, scale: float) -> None:
        x, y, w, h = box
        upper = 0.40 * h
        short = answer.working_word
        hatch = "////" if short else ""
        self.fill((x, y, w, upper), SHORT_BACK if short else "#ffffff", hatch)
        band = band_of(answer)
        hot = self.result.hot(answer.index)
        strip = 0.36 * (h - upper) if hot is not None else 0.0
        lower = (x, y + upper, w, h - upper - strip)
        self.fill(lower, NEVER_BACK if band is None else band.color, "xxxx" if band is None else "")
        self.line(x, y + upper, x + w, y + upper, 0.25)
        self.frame(box, 0.5)
        self.line(x, y, x + w, y, 1.4)
        words = f"{short} {answer.working_text}" if short else f"work {answer.working_text}"
        self.text(
            x + 0.5 * w,
            y + 0.5 * upper,
            words,
            _points(words, 7.6 * scale, w - 2.0, bold=bool(short)),
            bold=bool(short),
            ha="center",
            va="center_baseline",
            **(_behind(SHORT_BACK) if short else {}),
        )
        size = (9.5 if answer.release_word else 12.5) * scale * (0.86 if hot is not None else 1.0)
        self.text(
            x + 0.5 * w,
            y + upper + 0.5 * lower[3],
            answer.release_text,
            _points(answer.release_text, size, w - 2.5, bold=True),
            bold=True,
            ha="center",
            va="center_baseline",
            **(_behind(NEVER_BACK) if band is None else {}),
        )
        if hot is not None:
            # White on black: nothing else on the sheet looks like it, in colour or in grey.
            self.fill((x, y + h - strip, w, strip), INK)
            self.text(
                x + 0.5 * w,
                y + h - 0.5 * strip,
                hot,
                _points(hot, 6.3 * scale, w - 2.0, bold=True),
                bold=True,
                color="#ffffff",
                ha="center",
                va="center_baseline",
            )

    # Months

    def _months(self, y: float) -> None:
        chart, result = self.chart, self.result
        climate = chart.climate
        lines = month_lines(result)
        axis = next(a for a in chart.axes if a.numeric and "ground.temperature_C" in a.sets)
        assert climate is not None
        place = {chart.rows: "row", chart.columns: "column", chart.panels: "panel"}[axis.name]
        left, label = MARGIN + 27.0, 25.0
        width = (self.width - left - MARGIN) / 12.0
        for i, words in enumerate(("Month", f"ground at {climate.depth_m:g} m", f"release / working {place}")):
            self.text(
                MARGIN + label,
                y + (1.6, 5.2, 8.6)[i],
                words,
                _points(words, 7.0, label),
                bold=i == 0,
                ha="right",
                va="center_baseline",
            )
        for i, line in enumerate(lines):
            x = left + i * width
            self.frame((x, y - 0.6, width, 11.2), 0.5)
            self.text(x + 0.5 * width, y + 1.6, line.month, 7.6, bold=True, ha="center", va="center_baseline")
            span = both_ranges(line.low_C, line.high_C)
            self.text(
                x + 0.5 * width, y + 5.2, span, _points(span, 6.8, width - 1.6), ha="center", va="center_baseline"
            )
            rows = _row_range(
                None if line.release_row is None else axis.labels[line.release_row],
                None if line.working_row is None else axis.labels[line.working_row],
            )
            self.text(
                x + 0.5 * width,
                y + 8.6,
                rows,
                _points(rows, 6.8, width - 1.0, bold=True),
                bold=True,
                ha="center",
                va="center_baseline",
            )

    # Foot

    def _foot(self) -> float:
        """Draws the foot from the bottom up; returns where it begins."""
        chart, result = self.chart, self.result
        line = FOOT_POINTS * MM_PER_POINT * 1.32
        names = list(dict.fromkeys(case.resin.id for case in chart.cases.values()))
        trace = (
            f"libcure {_core.__version__}   {result.date}   inputs {result.inputs_hash}   "
            f"{chart.samples} samples a cell, seed {chart.seed}   models: {', '.join(names)}"
        )
        room = self.width - 2.0 * MARGIN
        self.text(MARGIN, self.height - 6.5, _fit(trace, 6.8, room), _points(trace, 6.8, room))
        gap, legend = 6.0, 60.0
        room -= legend + 2.0 * gap
        shares = (0.5 * room, 0.5 * room)
        columns = [
            ("Cautions", [line for t in result.cautions for line in _wrapped(t, shares[0])]),
            ("What the numbers rest on", [line for t in self._rests_on() for line in _wrapped(t, shares[1])]),
        ]
        tall = max(max(len(lines) for _, lines in columns) * line + 5.0, 48.0)
        begin = self.height - 10.5 - tall
        x = MARGIN + legend + gap
        for (title, lines), share in zip(columns, shares, strict=True):
            self.text(x, begin + 1.5, title, 7.6, bold=True)
            self.text(x, begin + 4.3, "\n".join(lines), FOOT_POINTS, va="top", linespacing=1.25)
            x += share + gap
        self._legend(MARGIN, begin)
        self.line(MARGIN, begin - 1.8, self.width - MARGIN, begin - 1.8, 0.5)
        self.line(MARGIN, self.height - 9.3, self.width - MARGIN, self.height - 9.3, 0.5)
        return begin - 1.8

    def _rests_on(self) -> list[str]:
        result = self.result
        found = list(result.assumptions)
        if result.dominant is not None:
            found.append(f"What moves the release time most: {result.dominant.lower()}.")
        count = len(result.violations)
        found.append(
            f"CHECK BEFORE USE: in {count} place{'s' * (count != 1)} neighbouring cells go against the physics, "
            "see chart.html or chart.json."
            if count
            else "Checked: no neighbouring cells go against what the physics lets expect."
        )
        return found

    def _legend(self, x: float, y: float) -> None:
        need = self.chart.need_min
        self.text(x, y + 1.5, "How to read a cell", 7.6, bold=True)
        w, h = 14.0, 4.0
        rows = [
            ("#ffffff", "", "work 45 min", "5 % low side, rounded down"),
            (
                SHORT_BACK,
                "////",
                "SHORT",
                f"under the {need:g} min the crew needs" if need else "too little working time",
            ),
            *((band.color, "", "", f"release {band.text}") for band in BANDS),
            (NEVER_BACK, "xxxx", "NEVER", "no release in over 5 of 100 cases"),
        ]
        for i, (color, hatch, words, text) in enumerate(rows):
            top = y + 4.2 + i * (h + 0.7)
            self.fill((x, top, w, h), color, hatch)
            self.frame((x, top, w, h), 0.6)
            if words:
                self.text(
                    x + 0.5 * w,
                    top + 0.5 * h,
                    words,
                    5.6,
                    bold=bool(hatch),
                    ha="center",
                    va="center_baseline",
                    **(_behind(color) if hatch else {}),
                )
            elif i == 2:
                self.text(x + 0.5 * w, top + 0.5 * h, "1 h 45", 7.0, bold=True, ha="center", va="center_baseline")
            self.text(x + w + 2.0, top + 0.5 * h, text, FOOT_POINTS, va="center_baseline")
        foot = (
            "Release: 95 % high side, rounded up.\nTOO LATE: over before the liner is held.\n"
            "TOO HOT: for resin, bladder or pipe."
        )
        self.text(x, y + 4.2 + len(rows) * (h + 0.7), foot, FOOT_POINTS, va="top", linespacing=1.25)


def _behind(color: str) -> dict[str, Any]:
    """A patch behind words, so that a hatching does not cross them."""
    return {"bbox": {"boxstyle": "square,pad=0.12", "facecolor": color, "edgecolor": "none"}}


def _row_range(low: str | None, high: str | None) -> str:
    if low is None and high is None:
        return "off the chart"
    if low == high:
        return str(low)
    return f"{low or 'colder'} / {high or 'warmer'}"


@cache
def _advance(letter: str, bold: bool) -> float:
    """Width of a letter of the font over its size."""
    font = get_font(findfont(FontProperties(family=FONT, weight="bold" if bold else "normal")))
    font.set_size(100.0, 72.0)
    return float(font.load_char(ord(letter)).linearHoriAdvance) / 65536.0 / 100.0


def _width(words: str, points: float, bold: bool = False) -> float:
    """Of one line of text [mm]."""
    return sum(_advance(letter, bold) for letter in words) * points * MM_PER_POINT


def _points(words: str, points: float, room: float, bold: bool = False) -> float:
    """The size at which the words fit in the room [mm], at most ``points``."""
    needed = _width(words, points, bold)
    return points if needed <= room else points * room / needed


def _fit(words: str, points: float, room: float, bold: bool = False) -> str:
    """The words, cut where even half of the size would not fit them."""
    words = one_line(words)
    most = len(words)
    while most > 4 and _width(words[:most], 0.5 * points, bold) > room:
        most -= 1
    return words if most == len(words) else words[: most - 3] + "..."


def _wrapped(words: str, room: float) -> list[str]:
    """A paragraph with a bullet, in lines that fit in the room [mm]."""
    lines = ["·"]
    for word in one_line(words).split(" "):
        longer = f"{lines[-1]} {word}"
        if _width(longer, FOOT_POINTS) > 0.95 * room and lines[-1] not in ("·", " "):
            lines.append("  " + word)
        else:
            lines[-1] = longer
    return lines
