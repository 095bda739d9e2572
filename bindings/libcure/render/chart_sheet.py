"""The sheet to print for the van: one A4 page, drawn in millimetres.

Few artists: one collection a colour and hatching, one text a line.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure

from libcure import _core
from libcure.charting import words as phrases
from libcure.charting.axes import Axis
from libcure.charting.result import DO_NOT_USE, Answer, ChartResult
from libcure.render import plot
from libcure.render.chart_look import (
    INK,
    NEVER_BACK,
    OFF,
    RELEASE_COLOURS,
    SHORT_BACK,
    band_of,
    both_ranges,
    ground_axis,
    month_answers,
    month_lines,
    resin_axis,
    second_label,
    value_label,
)
from libcure.render.chart_paper import (
    BADGE,
    BULLET,
    FOOT_GAP,
    FOOT_POINTS,
    GAP,
    HEAD_FROM,
    HEAD_LINE,
    HEAD_POINTS,
    HEADLINE,
    HEADLINE_POINTS,
    LABEL,
    LEGEND,
    MARGIN,
    MONTH_LINE,
    MOST_PLACES,
    paper_of,
)
from libcure.render.lettering import FONT, points_of, wrapped

__all__ = ["SheetFigure", "draw", "save", "warm_up"]

FULL_WIDTH, FULL_HEIGHT = 25.0, 11.0
LEAST_STRIP, WIDE = 2.6, 40.0
"""Height of a line of words in a cell, and width of one that holds two of them side by side [mm]."""

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
    with plot.style():
        return _Sheet(result).figure


def save(figure: Figure, target: Path | io.BytesIO, suffix: str) -> None:
    """Writes the sheet as ``.pdf``, ``.svg`` or ``.png``; the same sheet gives the same bytes."""
    # The outlines of the letters alone: taking fonts apart takes longer than all the rest of the page.
    plot.save(figure, target, suffix, {"pdf.fonttype": 3})


def warm_up() -> None:
    """Loads what drawing and saving need: half a second that may pass while the engine computes."""
    with plot.style():
        figure = SheetFigure()
        for weight in ("normal", "bold"):
            figure.text(0.0, 0.0, "0", family=FONT, fontweight=weight)
    for suffix in (".pdf", ".svg"):
        save(figure, io.BytesIO(), suffix)


class _Sheet:
    def __init__(self, result: ChartResult) -> None:
        self.result, self.chart = result, result.chart
        self.paper = paper_of(self.chart)
        self.width, self.height = self.paper.width, self.paper.height
        self.figure = SheetFigure(figsize=(self.width / 25.4, self.height / 25.4))
        FigureCanvasAgg(self.figure)
        self.axes: Axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set(xlim=(0.0, self.width), ylim=(self.height, 0.0))
        self.axes.axis("off")
        self.boxes: dict[tuple[str, str], list[Box]] = {}
        self.lines: dict[float, list[list[tuple[float, float]]]] = {}
        self._head()
        self._grid()
        if self.paper.months:
            self._months(self.paper.bottom + 4.0)
        self._foot()
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
                    # What is white on black lies on the hatching, whichever was drawn first.
                    zorder=1.5 if color == INK else 1.0,
                ),
                autolim=False,
            )
        for points, segments in self.lines.items():
            self.axes.add_collection(
                LineCollection(segments, colors=INK, linewidths=points, zorder=2.0, capstyle="projecting"),
                autolim=False,
            )

    # Head

    def _head(self) -> None:
        paper = self.paper
        for i, title in enumerate(paper.title):
            y = 11.5 + 4.6 * (i - 0.5 * (len(paper.title) - 1))
            self.text(MARGIN, y, title, paper.title_points, bold=True)
        room = self.width - 2.0 * MARGIN
        size = points_of(paper.headline, HEADLINE_POINTS, room, bold=True)
        self.text(MARGIN, HEAD_FROM + 0.8, paper.headline, size, bold=True)
        y, alarm = HEAD_FROM + HEADLINE, phrases.check_first(len(self.result.violations))
        for i, lines in enumerate(paper.head):
            if i == 0 and alarm:
                # The legend tells how to read a cell too.
                box = (MARGIN, y - 0.5 * HEAD_LINE, self.width - 2.0 * MARGIN, HEAD_LINE * len(lines) - 0.4)
                self.fill(box, INK)
                self._centred(box, alarm, HEAD_POINTS, color="#ffffff")
                lines = ("",) * len(lines)
            for line in lines:
                self.text(MARGIN, y, line, HEAD_POINTS, bold=i == 1)
                y += HEAD_LINE
        if paper.estimated:
            x = self.width - MARGIN - BADGE + 4.0
            self.frame((x, 7.5, BADGE - 4.0, 8.0), 1.4)
            self.text(x + 0.5 * (BADGE - 4.0), 11.5, "ESTIMATED MODEL: NO REAL JOBS", 7.6, bold=True, ha="center")

    # Grid

    def _grid(self) -> None:
        chart, paper, top = self.chart, self.paper, self.paper.top
        rows = chart.axis(chart.rows)
        columns = chart.axis(chart.columns) if chart.columns is not None else None
        panels = chart.axis(chart.panels) if chart.panels is not None else None
        n_rows, n_columns = len(rows.values), len(columns.values) if columns is not None else 1
        n_panels = len(panels.values) if panels is not None else 1
        width, height = min(paper.cell[0], 90.0), min(paper.cell[1], 30.0)
        scale = min(1.5, width / FULL_WIDTH, height / FULL_HEIGHT)
        first = top + paper.names
        self._row_labels(first, height, scale)
        for p in range(n_panels):
            left = MARGIN + LABEL + p * (n_columns * width + GAP)
            if panels is not None:
                title = f"{panels.title}: {value_label(chart, panels, p)}"
                extra = ", ".join(second_label(chart, panels, p))
                title = f"{title} ({extra})" if extra else title
                self.text(
                    left + 0.5 * n_columns * width,
                    top + 3.0,
                    title,
                    points_of(title, 10.5, n_columns * width, bold=True),
                    bold=True,
                    ha="center",
                )
            for c in range(n_columns):
                x = left + c * width
                if columns is not None:
                    middle, name = x + 0.5 * width, value_label(chart, columns, c)
                    below = ", ".join((columns.title, *second_label(chart, columns, c)))
                    self.text(middle, first - 6.2, name, points_of(name, 10.5, width - 1.0, bold=True), bold=True, ha="center")
                    self.text(middle, first - 2.2, below, points_of(below, 7.2, width - 1.0), ha="center")
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
        self.text(MARGIN, first - 2.8, rows.title, points_of(rows.title, 8.0, 26.0, bold=True), bold=True)
        for r in range(len(rows.values)):
            y = first + (r + 0.5) * height
            label, second = value_label(chart, rows, r), second_label(chart, rows, r)
            up = 1.6 * scale * len(second)
            self.text(MARGIN + 25.0, y - up, label, points_of(label, 11.5 * scale, 25.0, bold=True), bold=True, ha="right")
            for i, line in enumerate(second):
                below = y - up + (4.5 + 3.0 * i) * scale
                self.text(MARGIN + 25.0, below, line, points_of(line, 8.0 * scale, 25.0), ha="right")

    def _cell(self, box: Box, answer: Answer, scale: float) -> None:
        x, y, w, h = box
        band = band_of(answer)
        if band is None:
            self._stop(box, answer, scale)
        else:
            lines = [f"in place {answer.in_place_text}"] if answer.in_place_text else []
            short = bool(answer.working_word)
            lines.append(answer.working_text if short else f"work {answer.working_text}")
            upper = h * (0.60 if len(lines) > 1 else 0.45)
            each = upper / len(lines)
            self.fill((x, y + upper, w, h - upper), band.color)
            self.fill((x, y, w, upper), SHORT_BACK if short else "#ffffff", "////" if short else "")
            self.line(x, y + upper, x + w, y + upper, 0.25)
            behind = _behind(SHORT_BACK) if short else {}
            # One size for both, and near that of the release.
            size = min(points_of(words, min(10.5 * scale, 2.4 * each), w - 2.0, bold=True) for words in lines)
            for i, words in enumerate(lines):
                self._centred((x, y + i * each, w, each), words, size, bold=short or i == 0, **behind)
            self._centred((x, y + upper, w, h - upper), answer.release_text, min(12.5 * scale, 2.2 * (h - upper)))
        self.frame(box, 0.5)
        self.line(x, y, x + w, y, 1.4)

    def _stop(self, box: Box, answer: Answer, scale: float) -> None:
        """A cell that must not be used: no time, and why."""
        x, y, w, h = box
        words = (DO_NOT_USE, *answer.why_not)
        if len(words) > 2 and h < LEAST_STRIP * len(words):
            # The gravest, and heat, which harms more than the job.
            first = (f"{DO_NOT_USE}: {words[1]}",) if w > WIDE else words[:2]
            words = (*first, words[-1])
        each = h / len(words)
        self.fill(box, NEVER_BACK, "xxxx")
        for i, word in enumerate(words):
            strip = (x, y + i * each, w, each)
            hot = word == answer.hot_word
            if hot:
                # White on black: nothing else on the sheet looks like it, in colour or in grey.
                self.fill(strip, INK)
            size = min((7.6, 9.5, 9.5)[min(i, 2)] * scale, 1.75 * each)
            self._centred(strip, word, size, color="#ffffff" if hot else INK, **({} if hot else _behind(NEVER_BACK)))

    def _centred(self, box: Box, words: str, points: float, *, bold: bool = True, **more: Any) -> None:
        x, y, w, h = box
        size = points_of(words, points, w - 2.0, bold=bold)
        self.text(x + 0.5 * w, y + 0.5 * h, words, size, bold=bold, ha="center", va="center_baseline", **more)

    # Months

    def _months(self, y: float) -> None:
        left, label = MARGIN + LABEL, 25.0
        width = (self.width - left - MARGIN) / 12.0
        names, columns = self._month_texts()
        for i, (words, bold) in enumerate(names):
            size = points_of(words, 7.0, label, bold=bold)
            self.text(MARGIN + label, y + 0.6 + MONTH_LINE * i, words, size, bold=bold, ha="right", va="center_baseline")
        for j, lines in enumerate(columns):
            x = left + j * width
            self.frame((x, y - 1.4, width, 0.7 + MONTH_LINE * self.paper.months), 0.5)
            for i, (words, (_, bold)) in enumerate(zip(lines, names, strict=True)):
                self._centred((x, y - 0.4 + MONTH_LINE * i, width, 2.0), words, 6.8, bold=bold)
        words = phrases.by_month(self.chart)
        self.text(MARGIN, y + 1.4 + MONTH_LINE * self.paper.months, words, points_of(words, FOOT_POINTS, self.width - 2.0 * MARGIN))

    def _month_texts(self) -> tuple[list[tuple[str, bool]], list[list[str]]]:
        """Names of the lines, and whether they are bold; then the lines of each month."""
        chart, lines = self.chart, month_lines(self.chart)
        axis, climate, resin = ground_axis(chart), chart.climate, resin_axis(chart)
        assert axis is not None and climate is not None
        places = {chart.rows: "row", chart.columns: "column", chart.panels: "panel"}
        portrait = chart.page != "landscape"

        def ranges(span: tuple[float, float]) -> list[str]:
            both = both_ranges(*span, first=chart.temperature)
            return both.split(", ") if portrait else [both]

        ground = [(f"ground at {climate.depth_m:g} m", False), *([("", False)] if portrait else [])]
        names, found = [("Month", True), *ground], [[line.month, *ranges(line.wall_C)] for line in lines]
        if resin is None:
            names.append((f"release only: {places[axis.name]}", True))
            for line, texts in zip(lines, found, strict=True):
                texts.append(value_label(chart, axis, line.rows[0]) if line.rows else OFF)
            return names, found
        names += [("resin and packer", False), *([("", False)] if portrait else [])]
        answers = [month_answers(self.result, line) for line in lines]
        short = len(answers[0]) <= MOST_PLACES
        names += [(a.where, True) for a in answers[0]] if short else [(places[a.name], True) for a in (axis, resin)]
        for line, texts, told in zip(lines, found, answers, strict=True):
            assert line.resin_C is not None
            texts += ranges(line.resin_C)
            texts += [a.short for a in told] if short else [self._from_to(axis, line.rows), self._from_to(resin, line.columns)]
        return names, found

    def _from_to(self, axis: Axis, places: tuple[int, ...]) -> str:
        ends = dict.fromkeys(value_label(self.chart, axis, i) for i in (places[:1] + places[-1:]))
        return " to ".join(ends) or OFF

    # Foot

    def _foot(self) -> None:
        chart, result, paper = self.chart, self.result, self.paper
        names = list(dict.fromkeys(case.resin.id for case in chart.cases.values()))
        trace = (
            f"libcure {_core.__version__}   {result.date}   inputs {result.inputs_hash}   "
            f"{chart.samples} samples a cell, seed {chart.seed}   models: {', '.join(names)}"
        )
        self.text(MARGIN, self.height - 6.5, trace, points_of(trace, 6.8, self.width - 2.0 * MARGIN))
        begin = paper.foot + 1.8
        x = MARGIN + LEGEND + FOOT_GAP
        for title, texts in (("Cautions", result.cautions), ("What the numbers rest on", phrases.rests_on(result))):
            lines = [line for text in texts for line in wrapped(text, paper.column, FOOT_POINTS, bullet=BULLET)]
            self.text(x, begin + 1.5, title, 7.6, bold=True)
            self.text(x, begin + 4.3, "\n".join(lines), FOOT_POINTS, va="top", linespacing=1.25)
            x += paper.column + FOOT_GAP
        self._legend(MARGIN, begin)
        self.line(MARGIN, paper.foot, self.width - MARGIN, paper.foot, 0.5)
        self.line(MARGIN, self.height - 9.3, self.width - MARGIN, self.height - 9.3, 0.5)

    def _legend(self, x: float, y: float) -> None:
        need = self.chart.need_min
        self.text(x, y + 1.5, "How to read a cell", 7.6, bold=True)
        w, h, gap = 16.0, 3.7, 0.6
        rows = [
            ("#ffffff", "", "in place 40 min", "latest moment in place: 5 % low side"),
            ("#ffffff", "", "work 45 min", "if in place as planned: 5 % low side"),
            (
                SHORT_BACK,
                "////",
                "SHORT",
                f"under the {need:g} min the crew needs" if need else "too little working time",
            ),
            *((band.color, "", "1 h 45" if band is RELEASE_COLOURS[0] else "", f"release {band.text}") for band in RELEASE_COLOURS),
            (NEVER_BACK, "xxxx", DO_NOT_USE, "for the reason below it"),
            (INK, "", "TOO HOT 90 °C", "hottest resin in the worst 5 of 100 jobs"),
        ]
        for i, (color, hatch, words, text) in enumerate(rows):
            box = (x, y + 4.2 + i * (h + gap), w, h)
            self.fill(box, color, hatch)
            self.frame(box, 0.6)
            ink = "#ffffff" if color == INK else INK
            self._centred(box, words, 6.4, bold=i > 0, color=ink, **(_behind(color) if hatch else {}))
            self.text(x + w + 2.0, box[1] + 0.5 * h, text, FOOT_POINTS, va="center_baseline")
        foot = (
            "Release: 95 % high side, rounded up. TOO LATE: gels before the liner is held. TOO LATE, NEVER, NOT IN: in over "
            "5 of 100 jobs."
        )
        lines = wrapped(foot, LEGEND, FOOT_POINTS)
        y += 4.2 + len(rows) * (h + gap)
        self.text(x, y, "\n".join(lines), FOOT_POINTS, va="top", linespacing=1.25)


def _behind(color: str) -> dict[str, Any]:
    """A patch behind words, so that a hatching does not cross them."""
    return {"bbox": {"boxstyle": "square,pad=0.12", "facecolor": color, "edgecolor": "none"}}
